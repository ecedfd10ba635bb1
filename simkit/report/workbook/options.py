"""The sheet of options: terms by year, and every option's own cash by year; a case picks from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simkit.finance.lines import LINES
from simkit.plant.options import Option
from simkit.plant.settings_money import Finance
from xlsxwriter.utility import xl_col_to_name

from simkit.report.workbook.formula import Place
from simkit.report.workbook.sheets import FIRST_YEAR, LABEL, OPENING, PRESENT, UNIT, VALUE, Book, Sheet

OPTIONS = "Options"
MODELS = ("Case", "Compare")
"""Sheets with a live model; each has its column of flags beside every option."""

KEY = "|"
"""Stands before and between the numbers of options in a key."""

FLAG, MEMBER = "[in {model} {option}]", "INDEX([member {option}],[{model} row])"
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
class Row:
    """A row of a block: which option it belongs to (its number), what it is, and its input."""

    option: int
    label: str
    value: str


class OptionSheet:
    """The sheet under construction."""

    def __init__(self, book: Book, options: Sequence[Option], finance: Finance, unit: str) -> None:
        self.book, self.options, self.finance, self.unit = book, options, finance, unit
        self.singles: dict[str, list[str]] = {}
        self.bundles: list[str] = []
        self.sheet: Sheet = book.sheet(
            OPTIONS,
            "Options: what each brings by year",
            (
                "Calculated from 'Inputs': what each option would pay by itself in every year. A case adds up its own.",
                "The columns 'in Case' and 'in Compare' show 1 for the options of the case picked there.",
            ),
            finance.horizon_years,
        )
        self.sheet.year_header(4)
        for column, model in zip((PRESENT, OPENING), MODELS, strict=True):
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
        self, name: str, title: str, rows: Sequence[Row], years: str = "", *, extra: Sequence[tuple[str, str]] = (),
        flag: str = FLAG, look: str = "money", year_look: str = "money", unit: str = "",
        note: str = "",
    ) -> None:  # fmt: skip
        """Rows of one kind: input, a flag for each model, the years; ``extra`` columns (title, formula) stand beyond.

        ``{option}`` in a formula is the row's option, ``{+0}`` its first extra column.
        """
        if not rows:
            return
        sheet = self.sheet
        sheet.heading(title, note)
        head, first = sheet.row - 1, sheet.row
        beyond = sheet.last_year + 1
        letters = {f"+{i}": xl_col_to_name(beyond + i) for i in range(len(extra))}
        for place, (text, _) in enumerate(extra):
            sheet.put(head, beyond + place, text, "head")
            sheet.widths.setdefault(beyond + place, 11.5)
        for row in rows:
            at = sheet.row
            fill = {"option": f"{row.option}", **letters}
            sheet.data(at, LABEL, row.label)
            sheet.put(at, UNIT, unit or self.unit, "unit")
            sheet.put(at, VALUE, f"={row.value}", look)
            for column, model in zip((PRESENT, OPENING), MODELS, strict=True):
                shown = "flag" if flag in (FLAG, MEMBER) else look
                sheet.put(at, column, "=" + _filled(flag, {**fill, "model": model}), shown)
            for place, (_, formula) in enumerate(extra):
                sheet.put(at, beyond + place, "=" + _filled(formula, fill), "factor")
            for year in range(sheet.years + 1) if years else ():
                sheet.put(at, FIRST_YEAR + year, "=" + _filled(years, fill), year_look)
        self._name_block(name, first, sheet.row - 1)

    def _name_block(self, name: str, first: int, last: int) -> None:
        book, sheet = self.book, self.sheet
        book.name(name, Place(OPTIONS, first, FIRST_YEAR, last, sheet.last_year, yearly=True))
        for key, column in ((f"{name} value", VALUE), (f"{name} Case", PRESENT), (f"{name} Compare", OPENING)):
            book.name(key, Place(OPTIONS, first, column, last, column))

    def use(self) -> None:
        """When each option is used, which case holds it, and what of its gain is kept."""
        rows = [Row(i, o.name, f"[first_payment]+[lead {i}]/[weeks_per_year]")
                for i, o in enumerate(self.options, 1)]  # fmt: skip
        first = self.sheet.row + 2
        for i in range(len(rows)):
            self.book.name(f"start {i + 1}", Place(OPTIONS, first + i, VALUE, first + i, VALUE))
            self.book.name(f"use {i + 1}", Place(OPTIONS, first + i, FIRST_YEAR, first + i, self.sheet.last_year, True))
            for column, model in zip((PRESENT, OPENING), MODELS, strict=True):
                self.book.name(f"in {model} {i + 1}", Place(OPTIONS, first + i, column, first + i, column))
        self.block("use", "Start of use, and share of the year in use", rows, "MAX(0,MIN(1,[y]-{C}))", look="factor",
                   unit="years", year_look="percent", flag=MEMBER)  # fmt: skip
        every = [(i, o.name) for i, o in enumerate(self.options, 1)]
        self.block("lead", "Lead time", [Row(i, o, f"[lead {i}]") for i, o in every], look="number", unit="weeks",
                   flag="[in {model} {option}]*{C}")  # fmt: skip
        self.block("stop", "Installation stop", [Row(i, o, f"[stop {i}]") for i, o in every], look="number",
                   unit="working days", flag="[in {model} {option}]*{C}")  # fmt: skip
        self.block("kept", "Share of the gain kept after a year", [Row(i, o, f"[kept {i}]") for i, o in every],
                   look="percent", unit="share", flag="IF([in {model} {option}]=1,{C},1)")  # fmt: skip
        self._keys()

    def _keys(self) -> None:
        """Numbers of the options of each model whose gain fades, as one text: the case of these alone is looked up."""
        sheet = self.sheet
        sheet.heading("Options whose gain fades, as a key")
        start = sheet.row
        for column in (PRESENT, OPENING):
            sheet.put(start, column, KEY, "words")
        for i, option in enumerate(self.options, 1):
            at = sheet.row
            sheet.data(at, LABEL, option.name)
            sheet.data(at, VALUE, f"{i}{KEY}", "static_words")
            for column, model in zip((PRESENT, OPENING), MODELS, strict=True):
                up = f"{{^{xl_col_to_name(column)}}}"
                sheet.put(
                    at, column, f"=IF(AND([in {model} {i}]=1,[kept {i}]<1),CONCATENATE({up},{{C}}),{up})", "words"
                )
                self.book.name(f"{model} key", Place(OPTIONS, at, column, at, column))

    def cash(self) -> None:
        """Cash of every option by year, kind by kind."""
        number = dict(enumerate(self.options, 1))
        self._purchase(number)
        self._renewal([i for i, o in number.items() if o.life_years is not None])
        once_paid = "-{C}*[waited]*IF([y]=[first_payment],1,0)"
        lines = [(i, place, line) for i, o in number.items() for place, line in enumerate(o.capital_lines, 1)]
        single = [Row(i, f"{number[i].name}: {n.line}", f"[line {i} {p}]") for i, p, n in lines if n.per == "option"]
        self.block("capital_line", "Other capital of an option", single, once_paid)
        shared = [(i, p, n) for i, p, n in lines if n.per == "bundle"]
        self.bundles = list(dict.fromkeys(n.line for _, _, n in shared))
        for place, name in enumerate(self.bundles):
            rows = [Row(i, f"{number[i].name}: {n.line}", f"[line {i} {p}]") for i, p, n in shared if n.line == name]
            self.block(f"bundle {place}", "Capital paid once for all options of a case that need it", rows,
                       flag="[in {model} {option}]*{C}", note="the dearest counts")  # fmt: skip
        bought = [Row(i, o.name, f"[adjustment {i}]") for i, o in number.items() if o.kind == "bought"]
        self.block("bundle_adjustment", "Added when bought options are combined", bought, once_paid)
        for budget in YEARLY_BUDGETS:
            rows = [Row(i, o.name, f"[yearly cost {i}]") for i, o in number.items() if budget == "yearly_cost"]
            rows += [Row(i, f"{o.name}: {n.line}", f"[yearly {i} {p}]") for i, o in number.items()
                     for p, n in enumerate(o.yearly_lines, 1) if n.budget == budget]  # fmt: skip
            self.block(budget, LINES[budget].title, rows, f"-{{C}}*{self.level(budget)}*[use {{option}}]*[inside]")
        labour = [Row(i, o.name, f"[labour {i}]") for i, o in number.items() if o.yearly_labour_h]
        wage = "IF([setter_wage]>0,[setter_wage],[operator_wage])"
        self.block("named_labour", LINES["named_labour"].title, labour,
                   f"-{{C}}*{wage}*{self.level('named_labour')}*[use {{option}}]*[inside]", unit="h/year",
                   look="number")  # fmt: skip
        self._single(number)

    def _purchase(self, number: dict[int, Option]) -> None:
        stages = range(len(self.finance.payments))
        extra = []
        for place, (stage, _) in enumerate(self.finance.payments, 1):
            moment = f"[paid at {place}]*[lead {{option}}]/[weeks_per_year]"
            due = f"[first_payment]+IF({moment}>0,{to_year(moment)},0)"
            extra.append((f"{stage}, year", f"MIN({due},[horizon_years])"))
        paid = "+".join(f"[payment {i + 1}]*IF([y]={{+{i}}},1,0)" for i in stages)
        rows = [Row(i, o.name, f"[capital {i}]") for i, o in number.items()]
        self.block("capital", LINES["capital"].title, rows, f"-{{C}}*[waited]*({paid})", extra=extra)
        granted = [Row(i, o.name, f"[capital {i}]*[grant {i}]") for i, o in number.items() if o.grant_share]
        self.block("grant", LINES["grant"].title, granted, f"{{C}}*[waited]*({paid})", extra=extra)

    def _renewal(self, living: Sequence[int]) -> None:
        """Bought again at the end of a life, and what is left of the last purchase at the horizon."""
        start, life, moment = "[start {option}]", "[life {option}]", "[same_moment]"
        times = f"MAX(0,-INT({moment}-([horizon_years]-{start})/{life})-1)"
        so_far = f"INT(([y]-{start})/{life}+{moment})"
        before = f"INT(([y]-1-{start})/{life}+{moment})"
        again = f"IF(AND({so_far}>{before},{so_far}>0,{{+0}}>={so_far}),1,0)"
        price = f"[purchase growth]^INT({start}+{so_far}*{life}+{moment})*[inflated]"
        rows = [Row(i, self.options[i - 1].name, f"[capital {i}]") for i in living]
        self.block("replacement", LINES["replacement"].title, rows, f"-{{C}}*{again}*{price}",
                   extra=[("times", times)])  # fmt: skip
        last = f"({start}+{{+0}}*{life})"
        at_last = f"[purchase growth]^INT({last}+{moment})*(1+[inflation_rate])^{to_year(last)}"
        left = f'IF([residual_rule]="share",[residual_share],MAX(0,1-MAX([horizon_years]-{last},0)/{life}))'
        level = f"IF({{+0}}=0,[waited],{at_last})"
        self.block("residual", LINES["residual"].title, rows, "{C}*{+1}*{+2}*[end]",
                   extra=[("times", times), ("price level", level), ("left", left)])  # fmt: skip

    def _single(self, number: dict[int, Option]) -> None:
        """Stock while in use, and amounts of a single year."""
        start = "[start {option}]"
        stock = [Row(i, o.name, f"[stock {i}]") for i, o in number.items() if o.working_capital]
        begun = f"MIN(IF({start}>0,{to_year(start)},0),[horizon_years])"
        self.block("working_capital", LINES["working_capital"].title, stock, "{C}*([end]-IF([y]={+0},1,0))",
                   extra=[("bound in", begun)])  # fmt: skip
        for name, kind in (("stock", "stock"), ("one_time", "other")):
            listed = [(i, p, n) for i, o in number.items() for p, n in enumerate(o.once, 1) if n.what == kind]
            for i, place, line in listed:
                year = f"[once year {i} {place}]"
                falls = f"IF({year}=0,[first_payment],INT({start}+[same_moment])+{year})"
                self.block(f"{name} {i} {place}", f"{LINES[name].title}, {number[i].name}",
                           [Row(i, line.line, f"[once {i} {place}]")], "{C}*IF([y]={+0},1,0)*[inside]",
                           extra=[("falls in", f"IF({{C}}<0,MIN({falls},[horizon_years]),{falls})")])  # fmt: skip
            self.singles[name] = [f"{name} {i} {p}" for i, p, _ in listed]


def to_year(moment: str) -> str:
    """Formula of the year in whose twelve months a moment lies; its end belongs to it."""
    return f"MAX(1,-INT([same_moment]-({moment})))"


def _level(rate: str) -> str:
    return f"IF([y]>0,(1+[{rate}])^([y]-1),1)*[inflated]"


def _filled(template: str, values: dict[str, str]) -> str:
    """A template with option, model and extra columns filled in; references to columns stay."""
    for name, value in values.items():
        kept = f"{{{value}}}" if name.startswith("+") else value
        template = template.replace(f"{{{name}}}", kept)
    return template
