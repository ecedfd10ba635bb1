"""Makes the project root importable from every test folder, so that ``tests.small_plant`` is found."""
