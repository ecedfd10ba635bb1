"""The sheet of options: terms by year, and every option's own cash by year; a case picks from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from xlsxwriter.utility import xl_col_to_name

from simkit.finance.lines import LINES
from simkit.plant.options import Option
from simkit.plant.settings_money import Finance
from simkit.report.workbook.sheets import (
    FIRST_YEAR,
    LABEL,
    OPENING,
    PRESENT,
    UNIT,
    VALUE,
    FormulaSheet,
    LiveWorkbook,
    filled,
)

OPTIONS = "Options"
MODELS = {"Case": PRESENT, "Compare": OPENING}
"""Sheets with a live model; each has its column of flags beside every option."""

KEY = "|"
"""Stands before and between the numbers of options in a key."""

FLAG, MEMBER = "[in {model} {option}]", "INDEX([member {option}],[{model} row])"
IF_HELD = f"{FLAG}*{{C}}"
YEARLY_BUDGETS = ("yearly_cost", "service", "software", "spares", "insurance", "standing_energy")

TERMS = """
#Terms by year
yinside | 1 or 0 | whole | Within the years looked at | IF([y]>[horizon_years],0,1)
yend | 1 or 0 | whole | Last of the years looked at | IF([y]=[horizon_years],1,0)
ydemand | factor | factor | Demand, factor of the order book | INDEX([demand_by_year],MAX([y],1))
yinflated | factor | factor | Inflation since year 0 | (1+[inflation_rate])^[y]
ywages | factor | factor | Level of wages, year 1 = 1 | {wages}
yprices | factor | factor | Level of prices, year 1 = 1 | {prices}
ydeflator | factor | factor | Value in money of year 0 | (1+[inflation_rate])^-[y]
1month rate | a month | factor | Rate of a month | (1+[discount_rate])^(1/[months_per_year])-1
1within | factor | factor | Value at a year's end of one unit received in the year | IF([flow_timing]="year end",1,
    IF([flow_timing]="mid-year",(1+[discount_rate])^0.5,
    IF([discount_rate]=0,1,[discount_rate]/([months_per_year]*[month rate]))))
ydiscount | factor | factor | Discount factor of the year's flows
     | (1+[discount_rate])^-[y]*IF([y]>[first_payment],[within],1)*[inside]
yfrom first | factor | factor | Discount factor from the first payment
     | IF([y]>[first_payment],(1+[discount_rate])^([first_payment]-[y])*[within],1)*[inside]
1purchase growth | factor | factor | Growth of the price of a purchase | 1+[{growth}]
1waited | factor | factor | Price level of a purchase that waits
     | ([purchase growth]*(1+[inflation_rate]))^[first_payment]
"""


@dataclass(frozen=True)
class OptionRow:
    """A row of a block: which option it belongs to (its number), what it is, and its input."""

    option: int
    label: str
    value: str


class OptionSheet:
    """The sheet under construction."""

    def __init__(self, book: LiveWorkbook, options: Sequence[Option], finance: Finance, unit: str) -> None:
        self.book, self.options, self.finance, self.unit = book, options, finance, unit
        self.singles: dict[str, list[str]] = {}
        self.bundles: list[str] = []
        self.sheet: FormulaSheet = book.sheet(
            OPTIONS,
            "Options: what each brings by year",
            (
                "Calculated from 'Inputs': what each option would pay by itself in every year. A case adds up its own.",
                "The columns 'in Case' and 'in Compare' show 1 for the options of the case picked there.",
            ),
            finance.horizon_years,
        )
        self.sheet.year_header(4)
        for model, column in MODELS.items():
            self.sheet.cells.pop((4, column), None)
            self.sheet.put(4, column, f"in {model}", "head_right")
        self.sheet.widths[OPENING] = 11.5
        self.sheet.freeze = (5, 1)

    def terms(self) -> None:
        """What every option and case reads of a year."""
        own = self.finance.growth_of_lines
        growth = "growth replacement" if "replacement" in own else "price_growth"
        self.sheet.rows(TERMS, wages=_level("wage_growth"), prices=_level("price_growth"), growth=growth)
        for line in own:
            title = f"Level of '{LINES[line].title}'"
            self.sheet.line(title, "factor", _level(f"growth {line}"), "factor", f"level {line}")
        for name, place in self.sheet.names.items():
            self.book.name(name, place)

    def level(self, line: str) -> str:
        """Name of the row with the price level of a line."""
        if line in self.finance.growth_of_lines:
            return f"[level {line}]"
        follows = LINES[line].growth
        return "[inflated]" if follows == "none" else f"[{follows}]"

    def block(
        self,
        name: str,
        title: str,
        rows: Sequence[OptionRow],
        years: str = "",
        *,
        extra: Sequence[tuple[str, str]] = (),
        flag: str = FLAG,
        look: str = "money",
        year_look: str = "money",
        unit: str = "",
        note: str = "",
    ) -> None:
        """Rows of one kind: input, a flag for each model, the years; ``extra`` columns (title, formula) stand beyond.

        ``{option}`` in a formula is the row's option, ``{+0}`` its first extra column.
        """
        if not rows:
            return
        sheet = self.sheet
        sheet.heading(title, note)
        head, first = sheet.row - 1, sheet.row
        beyond = sheet.last_year + 1
        letters = {f"+{i}": f"{{{xl_col_to_name(beyond + i)}}}" for i in range(len(extra))}
        for place, (text, _) in enumerate(extra):
            sheet.put(head, beyond + place, text, "head")
            sheet.widths.setdefault(beyond + place, 11.5)
        for row in rows:
            at = sheet.row
            fill = {"option": f"{row.option}", **letters}
            sheet.data(at, LABEL, row.label)
            sheet.put(at, UNIT, unit or self.unit, "unit")
            sheet.put(at, VALUE, f"={row.value}", look)
            for model, column in MODELS.items():
                shown = "flag" if flag in (FLAG, MEMBER) else look
                sheet.put(at, column, filled(f"={flag}", model=model, **fill), shown)
            for place, (_, formula) in enumerate(extra):
                sheet.put(at, beyond + place, filled(f"={formula}", **fill), "factor")
            for year in range(sheet.years + 1) if years else ():
                sheet.put(at, FIRST_YEAR + year, filled(f"={years}", **fill), year_look)
        self.book.name(name, sheet.years_of(first, sheet.row - 1))
        for key, column in {"value": VALUE, **MODELS}.items():
            self.book.name(f"{name} {key}", sheet.area(first, column, sheet.row - 1))

    def _each(self, key: str, having: str = "id") -> list[OptionRow]:
        """A row for each option that has something entered, with its input of this name."""
        return [OptionRow(i, o.name, f"[{key} {i}]") for i, o in enumerate(self.options, 1) if getattr(o, having)]

    def use(self) -> None:
        """When each option is used, which case holds it, and what of its gain is kept."""
        book, sheet = self.book, self.sheet
        rows = [
            OptionRow(row.option, row.label, f"[first_payment]+{row.value}/[weeks_per_year]")
            for row in self._each("lead")
        ]
        self.block("use", "Start of use, and share of the year in use", rows, "MAX(0,MIN(1,[y]-{C}))", look="factor",
                   unit="years", year_look="percent", flag=MEMBER)  # fmt: skip
        for at, row in enumerate(rows, book.names["use"].row):
            book.name(f"start {row.option}", sheet.area(at, VALUE))
            book.name(f"use {row.option}", sheet.years_of(at))
            for model, column in MODELS.items():
                book.name(f"in {model} {row.option}", sheet.area(at, column))
        self.block("lead", "Lead time", self._each("lead"), look="number", unit="weeks", flag=IF_HELD)
        self.block("stop", "Installation stop", self._each("stop"), look="number", unit="working days", flag=IF_HELD)
        self.block("kept", "Share of the gain kept after a year", self._each("kept"), look="percent", unit="share",
                   flag="IF([in {model} {option}]=1,{C},1)")  # fmt: skip
        self._keys()

    def _keys(self) -> None:
        """Numbers of the options of each model whose gain fades, as one text: the case of these alone is looked up."""
        sheet = self.sheet
        sheet.heading("Options whose gain fades, as a key")
        start = sheet.row
        for column in MODELS.values():
            sheet.put(start, column, KEY, "words")
        for i, option in enumerate(self.options, 1):
            at = sheet.row
            sheet.data(at, LABEL, option.name)
            sheet.data(at, VALUE, f"{i}{KEY}", "static_words")
            for model, column in MODELS.items():
                up = f"{{^{xl_col_to_name(column)}}}"
                key = f"=IF(AND([in {model} {i}]=1,[kept {i}]<1),CONCATENATE({up},{{C}}),{up})"
                sheet.put(at, column, key, "words")
                self.book.name(f"{model} key", sheet.area(at, column))

    def cash(self) -> None:
        """Cash of every option by year, kind by kind."""
        self._purchase()
        self._renewal()
        once_paid = "-{C}*[waited]*IF([y]=[first_payment],1,0)"
        single, shared = self._capital_lines("option"), self._capital_lines("bundle")
        self.block("capital_line", "Other capital of an option", [row for _, row in single], once_paid)
        self.bundles = list(dict.fromkeys(line for line, _ in shared))
        for place, name in enumerate(self.bundles):
            rows = [row for line, row in shared if line == name]
            self.block(f"bundle {place}", "Capital paid once for all options of a case that need it", rows,
                       flag=IF_HELD, note="the dearest counts")  # fmt: skip
        bought = [row for row in self._each("adjustment") if self.options[row.option - 1].kind == "bought"]
        self.block("bundle_adjustment", "Added when bought options are combined", bought, once_paid)
        for budget in YEARLY_BUDGETS:
            rows = self._each("yearly cost") if budget == "yearly_cost" else []
            rows += [OptionRow(i, f"{o.name}: {n.line}", f"[yearly {i} {p}]") for i, o in enumerate(self.options, 1)
                     for p, n in enumerate(o.yearly_lines, 1) if n.budget == budget]  # fmt: skip
            self.block(budget, LINES[budget].title, rows, f"-{{C}}*{self.level(budget)}*[use {{option}}]*[inside]")
        wage = "IF([setter_wage]>0,[setter_wage],[operator_wage])"
        self.block("named_labour", LINES["named_labour"].title, self._each("labour", "yearly_labour_h"),
                   f"-{{C}}*{wage}*{self.level('named_labour')}*[use {{option}}]*[inside]", unit="h/year",
                   look="number")  # fmt: skip
        self._single()

    def _capital_lines(self, per: str) -> list[tuple[str, OptionRow]]:
        """Capital lines that are paid once for each option, or once for a bundle: name and row."""
        return [(n.line, OptionRow(i, f"{o.name}: {n.line}", f"[line {i} {p}]")) for i, o in enumerate(self.options, 1)
                for p, n in enumerate(o.capital_lines, 1) if n.per == per]  # fmt: skip

    def _purchase(self) -> None:
        extra, paid = [], []
        for place, (stage, _) in enumerate(self.finance.payments, 1):
            moment = f"[paid at {place}]*[lead {{option}}]/[weeks_per_year]"
            due = f"[first_payment]+IF({moment}>0,{to_year(moment)},0)"
            extra.append((f"{stage}, year", f"MIN({due},[horizon_years])"))
            paid.append(f"[payment {place}]*IF([y]={{+{place - 1}}},1,0)")
        by_year = f"{{C}}*[waited]*({'+'.join(paid)})"
        self.block("capital", LINES["capital"].title, self._each("capital"), f"-{by_year}", extra=extra)
        granted = [OptionRow(row.option, row.label, f"[capital {row.option}]*{row.value}")
                   for row in self._each("grant", "grant_share")]  # fmt: skip
        self.block("grant", LINES["grant"].title, granted, by_year, extra=extra)

    def _renewal(self) -> None:
        """Bought again at the end of a life, and what is left of the last purchase at the horizon."""
        start, life, moment = "[start {option}]", "[life {option}]", "[same_moment]"
        times = f"MAX(0,-INT({moment}-([horizon_years]-{start})/{life})-1)"
        so_far = f"INT(([y]-{start})/{life}+{moment})"
        before = f"INT(([y]-1-{start})/{life}+{moment})"
        again = f"IF(AND({so_far}>{before},{so_far}>0,{{+0}}>={so_far}),1,0)"
        price = f"[purchase growth]^INT({start}+{so_far}*{life}+{moment})*[inflated]"
        rows = self._each("capital", "life_years")
        self.block("replacement", LINES["replacement"].title, rows, f"-{{C}}*{again}*{price}",
                   extra=[("times", times)])  # fmt: skip
        last = f"({start}+{{+0}}*{life})"
        at_last = f"[purchase growth]^INT({last}+{moment})*(1+[inflation_rate])^{to_year(last)}"
        left = f'IF([residual_rule]="share",[residual_share],MAX(0,1-MAX([horizon_years]-{last},0)/{life}))'
        level = f"IF({{+0}}=0,[waited],{at_last})"
        self.block("residual", LINES["residual"].title, rows, "{C}*{+1}*{+2}*[end]",
                   extra=[("times", times), ("price level", level), ("left", left)])  # fmt: skip

    def _single(self) -> None:
        """Stock while in use, and amounts of a single year."""
        start = "[start {option}]"
        begun = f"MIN(IF({start}>0,{to_year(start)},0),[horizon_years])"
        self.block("working_capital", LINES["working_capital"].title, self._each("stock", "working_capital"),
                   "{C}*([end]-IF([y]={+0},1,0))", extra=[("bound in", begun)])  # fmt: skip
        for name, kind in (("stock", "stock"), ("one_time", "other")):
            listed = [(i, p, o.name, n.line) for i, o in enumerate(self.options, 1)
                      for p, n in enumerate(o.once, 1) if n.what == kind]  # fmt: skip
            for i, place, option, line in listed:
                year = f"[once year {i} {place}]"
                falls = f"IF({year}=0,[first_payment],INT({start}+[same_moment])+{year})"
                self.block(f"{name} {i} {place}", f"{LINES[name].title}, {option}",
                           [OptionRow(i, line, f"[once {i} {place}]")], "{C}*IF([y]={+0},1,0)*[inside]",
                           extra=[("falls in", f"IF({{C}}<0,MIN({falls},[horizon_years]),{falls})")])  # fmt: skip
            self.singles[name] = [f"{name} {i} {p}" for i, p, *_ in listed]


def to_year(moment: str) -> str:
    """Formula of the year in whose twelve months a moment lies; its end belongs to it."""
    return f"MAX(1,-INT([same_moment]-({moment})))"


def _level(rate: str) -> str:
    return f"IF([y]>0,(1+[{rate}])^([y]-1),1)*[inflated]"
