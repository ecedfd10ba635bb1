"""Money: the one cash-flow table and the measures that read it.

A planning aid. It gives no tax, accounting or investment advice: rates, tax treatment and the classes
of benefit are inputs that a controller or adviser has to confirm.
"""

FINANCE_CAUTION = (
    "Planning aid only: no tax, accounting or investment advice. Rates, tax treatment, prices and the class of each "
    "benefit are inputs to be confirmed by a controller or adviser before money is committed."
)
"""The standing line under every money table and figure."""
