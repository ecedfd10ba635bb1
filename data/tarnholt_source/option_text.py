def option_settings(tables):
    return []
