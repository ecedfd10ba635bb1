"""The live model of one picked case: every line of every year by formula, its tax, and its measures."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.finance.inputs import Prices
from simkit.finance.lines import LINES
from simkit.finance.timeline import Season
from simkit.report.workbook.gains import BUDGETED, GainLine, amount_rows, item_rows, items_of, ratio_rows
from simkit.report.workbook.hours import HoursSheet
from simkit.report.workbook.options import YEARLY_BUDGETS, OptionSheet, to_year
from simkit.report.workbook.people import excess_rows, people_rows
from simkit.report.workbook.sheets import LABEL, UNIT, VALUE, FormulaSheet, filled

PICK_ROW, HEAD_ROW, FIRST_ROW = 3, 4, 5
PURCHASE = ("capital", "capital_line", "bundle_adjustment", "grant", "replacement", "working_capital", "stock")
PAID = ("residual", "training", "installation_stop", *YEARLY_BUDGETS, "named_labour", "one_time")
POSTS = ("posts_added", "posts", "agency")
NOTHING, NEVER, NO_RATE = "nothing to pay", "not paid back", "no single rate"
WORTHLESS, NO_LIMIT, ELSEWHERE = "nothing", "no limit", "see 'Summary'"
PAID_BACK = (f'IF(SUM([below {{sum}}:])=0,"{NOTHING}",IF([{{sum}} at end]<-[no_difference],"{NEVER}",'
             "SUM([crossing {sum}:])-[first_payment]))")  # fmt: skip
"""Years from the first payment until a running sum is no longer below zero."""
RATE = (f'IF([flow_timing]="year end",IF(SUM([change:])>1,"{ELSEWHERE}",IF(AND(SUM([change:])=1,'
        "SUMPRODUCT([flow headline:]*(1+[highest_rate])^-[y:])*SUMPRODUCT([change:]*[sign:])<0),"
        f'IFERROR(IRR([flow headline:],[rate guess]),"{ELSEWHERE}"),"{NO_RATE}")),"{ELSEWHERE}")')  # fmt: skip
MODIFIED_RATE = ("IF(AND([got]>0,[gave]<0),([got]/-IF([gave]<0,[gave],-1))^(1/([horizon_years]-[first_payment]))"
                 f'*(1+[discount_rate])-1,"{NO_RATE}")')  # fmt: skip
TIED = "SUMPRODUCT([tied:],[discount:])"
REST = f"[headline]-IF([capital]>0,{TIED},0)"
PER_UNIT = f"IF([capital]>0,-{TIED}/[capital],-SUMPRODUCT([unit:],[discount:]))"
WORTH = (f'IF([loss_rule]="at once",IF({REST}<0,"{WORTHLESS}",IF({PER_UNIT}>0,({REST})/{PER_UNIT},"{NO_LIMIT}"))'
         f',"{ELSEWHERE}")')  # fmt: skip
MEASURES = (
    ("capital", "Capital", "money",
     "-SUMPRODUCT(([purchase capital:]+[purchase capital_line:]+[purchase bundle_adjustment:])*[deflator:])"),
    ("headline", "Net present value", "money", "SUMPRODUCT([flow headline:],[discount:])"),
    ("with avoided", "... with avoided cost", "money", "SUMPRODUCT([flow with avoided:],[discount:])"),
    ("with sales", "... with signed sales", "money", "SUMPRODUCT([flow with sales:],[discount:])"),
    ("payback", "Payback from the first payment, years", "years", filled(PAID_BACK, sum="so far")),
    ("discounted payback", "Discounted payback, years", "years", filled(PAID_BACK, sum="worth so far")),
    ("irr", "Internal rate of return, a year", "percent", RATE),
    ("mirr", "Modified internal rate, a year", "percent", MODIFIED_RATE),
    ("annual value", "Equal amount a year of the same value", "money",
     "-PMT([discount_rate],[horizon_years],[headline])"),
    ("worth", "Worth at most (capital at which the value is zero)", "money", WORTH),
)  # fmt: skip
"""What is known of a case in one number: key, words, format, formula."""


SECTIONS = {
    "purchase": ("Purchase and stock", "not taxed as they are"),
    "paid": ("Paid for the option", "positive: received"),
    "released": ("Cash released: gains and losses", "within today's budgets"),
    "avoided": ("Cost avoided", "above today's budgets; only what is lost reduces the headline"),
    "sales": ("Sales of signed demand", "lost ones reduce the headline"),
}
"""Sections of the statement: key, title and note."""

ROWS_BESIDE_LINES = 3 * len(SECTIONS) + 19 + 12
"""Headings and sums of the sections, then the rows of tax and of the figures."""

USE = """
#Use of the case | shares of the year
1start | years | factor | Start of use | [first_payment]+MAX([lead {case}])/[weeks_per_year]
1kept share | share | percent | Share of the gain kept after a year | MIN([kept {case}])
1ramp | years | factor | Ramp | [ramp_months]/[months_per_year]
yin use | share | percent | In use | MAX(0,MIN(1,[y]-[start]))
yrising | years | factor | Years of use within the ramp so far | MIN(MAX([y]-[start],0),[ramp])
ybenefit | years | factor | Full years of benefit so far | MAX([y]-[start]-[ramp],0)+[ramp_start]*[rising]
    +0.5*IF([ramp]>0,(1-[ramp_start])/[ramp],0)*[rising]^(1+1)
yramped | share | percent | In use, ramped | [benefit]-[benefit<]
yafter a year | share | percent | More than a year after the start | MAX(0,MIN(1,[y]-[start]-1))
ysettled | share | percent | After the ramp: posts go | MAX(0,MIN(1,[y]-[start]-[ramp]))
"""
STOP = """
#Start of use and installation stop
1begins | year | whole | Year in which use starts | MIN({begins},[horizon_years])
1lost hours | h | number | Hours lost to installation (idle or not) | INDEX([day h],[row@today])*(MAX([stop {case}])
    +[stop_share]*(SUM([stop {case}])-MAX([stop {case}])))
1caught up | h | number | ... made good by overtime | IF([subcontract_price]>0,MIN([lost hours],
    [overtime_cap]*[catch_up_weeks]*IF([overtime_allowed]="yes",1,0)),[lost hours])
1stop cost | {unit} | money | Cost of the stop | [caught up]*[crew rate@today]*(1+[overtime_premium])
    +([lost hours]-[caught up])*[subcontract_price]
"""
TAX = """
#Tax | planning aid: no tax advice
ynet purchase | {unit} | money | Purchase less grants, by year of payment
     | -([purchase capital]+[purchase capital_line]+[purchase bundle_adjustment])-[purchase grant]
ybought | {unit} | money | Written off from the year after
     | IF([y]=MIN(INT([start]+[same_moment]),[horizon_years]),SUM([net purchase:]),0)-[purchase replacement]
yschedule | {unit} | money | Depreciation by schedule
     | SUMPRODUCT(([y:]+[service_years]=[y])*[bought:]*[depreciation_shares])*[inside]
ywritten off | {unit} | money | Depreciation (not cash) | [schedule]+[end]*(SUM([bought:])-SUM([schedule:]))
srelief | {unit} | money | Tax relief by depreciation | [written off]*[tax_rate]
"""
TAX_OF_CLASS = """
stax {kind} | {unit} | money | Tax: {kind} | -({taxed})*[tax_rate]
ybase {kind} | {unit} | money | Taxable result with {kind} | {base}
ycarried {kind} | {unit} | money | ... loss carried on
     | IF([loss_rule]="carried forward",MAX(0,[carried {kind}<]-[base {kind}]),0)
yextra {kind} | {unit} | money | ... tax that losses do not relieve yet or ever
     | IF([loss_rule]="at once",0,[tax_rate]*(MAX(0,[base {kind}]-[carried {kind}<])-[base {kind}]))
"""
FIGURES = """
#After tax | in money of year 0 where rate and growth are real
sclass own | {unit} | money | Released, single amounts and costs
     | ([sum purchase]+[sum paid]+[sum released]+[tax headline]+[relief]-[extra headline])*[deflator]
sclass avoided | {unit} | money | Cost avoided
     | ([sum avoided]+[tax avoided]-[extra avoided]+[extra headline])*[deflator]
sclass sold | {unit} | money | Sales of signed demand
     | ([sum sales]+[tax sales]-[extra sales]+[extra avoided])*[deflator]
slost avoided | {unit} | money | Spent above today's budgets | MIN(0,[class avoided])
slost sales | {unit} | money | Sales lost | MIN(0,[class sold])
sflow headline | {unit} | total_money | HEADLINE | [class own]+[lost avoided]+[lost sales]
sflow with avoided | {unit} | total_money | ... with avoided cost | [class own]+[class avoided]+[lost sales]
sflow with sales | {unit} | total_money | ... with signed sales | [class own]+[class avoided]+[class sold]
yso far | {unit} | money | Headline so far | [so far<]+[flow headline]
yworth so far | {unit} | money | Headline so far, discounted to the first payment
     | [worth so far<]+[flow headline]*[from first]
"""
PAYBACK = """
ybelow {name} | 1 or 0 | flag | Below zero now or before | IF([{name}]<-[no_difference],1,[below {name}<])
yback {name} | 1 or 0 | flag | Paid back now or before
     | IF(AND([below {name}<]>0,[{name}]>=-[no_difference]),1,[back {name}<])
ycrossing {name} | years | factor | Years until then, in the year it happens
     | IF([back {name}]>[back {name}<],[y]-[{name}]/({step}),0)
1{name} at end | {unit} | money | At the end | SUMPRODUCT([{name}:],[end:])
"""
RATES = """
ysign | sign | whole | Sign of the headline, or the last one
     | IF(ABS([flow headline])<=[no_difference],[sign<],IF([flow headline]>0,1,-1))
ychange | 1 or 0 | flag | Sign changes | IF([sign]*[sign<]<0,1,0)
1got | {unit} | money | Received, at the first payment
     | SUMPRODUCT([flow headline:]*([flow headline:]>0)*[from first:])
1gave | {unit} | money | Paid, at the first payment
     | SUMPRODUCT([flow headline:]*([flow headline:]<0)*[from first:])
1ratio | ratio | factor | Received over paid, undiscounted | SUMPRODUCT([flow headline:]*([flow headline:]>0))
    /-IF([gave]<0,SUMPRODUCT([flow headline:]*([flow headline:]<0)),-1)
1rate guess | a year | percent | Where the search for the internal rate starts
     | IF([ratio]>0,[ratio]^(SUMPRODUCT([change:]*[sign:])*(1+1)/([horizon_years]-[first_payment]))-1,0)
ytied | {unit} | money | Cash that grows with the capital, after tax
     | ([sum purchase]-[purchase working_capital]-[purchase stock]+[paid residual]*(1-[tax_rate])+[relief])*[deflator]
yunit schedule | share | factor | One unit of capital: by schedule | [inside]*SUMPRODUCT(
    (MIN(INT([start]+[same_moment]),[horizon_years])+[service_years]=[y])*[depreciation_shares])
yunit | share | factor | One unit of capital, as if paid: cash after tax relief
     | (([unit schedule]+[end]*(1-SUM([unit schedule:])))*[tax_rate]-IF([y]=[first_payment],1,0))*[deflator]
"""


class LiveModel:
    """One live model on a sheet, from a row on; ``name`` is the sheet and the column of flags on 'Options'."""

    def __init__(self, sheet: FormulaSheet, pick: str, hours: HoursSheet, prices: Prices, seasons: Sequence[Season],
                 options: OptionSheet, top: int) -> None:  # fmt: skip
        self.book, self.sheet, self.name, self.options = sheet.book, sheet, sheet.name, options
        self.hours, self.prices, self.seasons = hours, prices, seasons
        self.unit, self.top = options.unit, top
        self.items: list[tuple[GainLine, str]] = []
        sheet.put(PICK_ROW, LABEL, pick, "input_words")
        sheet.put(PICK_ROW, UNIT, "<- pick a case here", "note")
        sheet.names["pick"] = sheet.area(PICK_ROW, LABEL)
        sheet.rules.append((PICK_ROW, LABEL, {"validate": "list", "source": "=case_names"}))
        sheet.put(PICK_ROW - 1, LABEL, "=INDEX([what it is],MATCH([pick],[case_names],0))", "note")
        sheet.year_header(HEAD_ROW)
        sheet.freeze = (FIRST_ROW, 1)
        self._look_up()

    def _look_up(self) -> None:
        """Row of 'Hours' of the case, below the place of the statement; the sheet of options needs it."""
        sheet = self.sheet
        listed = [(item, "") for item in items_of(self.hours, self.prices, "")]
        sheet.row = self.top + len(MEASURES) + len(self._plan(listed)) + ROWS_BESIDE_LINES
        sheet.end = sheet.row
        sheet.heading("Workings: which rows of 'Hours'")
        sheet.scalar("The case", "row", "MATCH([pick],[hours case],0)", "whole", "row@case")
        self.book.name(f"{self.name} row", sheet.names["row@case"])

    def build(self) -> None:
        """Workings first, then the statement above them, then the measures at the top.

        Other sheets read the rows by names like ``Case/flow headline``.
        """
        sheet, hours = self.sheet, self.hours.sheet
        self.book.name("hours today", hours.area(self.book.names["hours case"].row, 0))
        sheet.scalar("Today", "row", "MATCH([hours today],[hours case],0)", "whole", "row@today")
        sheet.scalar("What fades, alone (the case itself where that was not simulated)", "row",
                     f"IFERROR(MATCH([{self.name} key],[hours key],0),[row@case])", "whole", "row@alone")  # fmt: skip
        sheet.rows(USE, case=self.name)
        people_rows(sheet, self.hours, self.unit)
        sheet.rows(STOP, case=self.name, unit=self.unit, begins=to_year("[start]"))
        self._gains()
        end = sheet.row
        self._statement()
        sheet.row = end
        self._measures()
        self.book.names |= {f"{self.name}/{key}": place for key, place in sheet.names.items()}

    def _gains(self) -> None:
        """Rows of every item for every part of the production year."""
        sheet, seasons = self.sheet, self.seasons
        total = sum(season.weeks for season in seasons)
        for part, season in enumerate(seasons):
            sheet.suffix = f"/{part}" if len(seasons) > 1 else ""
            sheet.heading(f"Part {part + 1} of the year" if len(seasons) > 1 else "The production year")
            for name, title, value in (("season", "Demand of this part, of the year's", season.factor),
                                       ("part", "Share of the production weeks", season.weeks / total)):  # fmt: skip
                sheet.names[name + sheet.suffix] = sheet.area(sheet.row, VALUE)
                sheet.put(sheet.row, LABEL, title)
                sheet.put(sheet.row - 1, VALUE, value, "static_factor")
            sheet.scalar("Production weeks of this part", "weeks", "[production_weeks]*[part]", "number", "weeks")
            amount_rows(sheet, self.hours, self.prices)
            ratio_rows(sheet, self.hours, self.prices)
            excess_rows(sheet, self.hours)
            sheet.heading("Gains of a full year of use, at prices of year 1", "negative: a loss")
            for place, item in enumerate(items_of(self.hours, self.prices, "[weeks]")):
                item_rows(sheet, item, f"{place}", self.options.level(item.line), self.unit)
                self.items.append((item, f"{place}{sheet.suffix}"))
        sheet.suffix = ""

    def _plan(self, items: Sequence[tuple[GainLine, str]]) -> list[tuple[str, str]]:
        """Lines of the statement in order, as (section, line)."""
        lines = {item.line for item, _ in items} - {"sales"}
        released = [*POSTS, *(line for line in LINES if line in lines)]
        return [*(("purchase", line) for line in PURCHASE), *(("paid", line) for line in PAID),
                *(("released", line) for line in released), *(("avoided", line) for line in BUDGETED if line in lines),
                ("sales", "sales")]  # fmt: skip

    def _statement(self) -> None:
        """Every line by year, section by section, with its sum; then tax and the figures."""
        sheet, plan = self.sheet, self._plan(self.items)
        sheet.row = self.top + len(MEASURES)
        for section, (title, note) in SECTIONS.items():
            sheet.heading(title, note)
            first = sheet.row
            for line in [line for own, line in plan if own == section]:
                sheet.line(LINES[line].title, self.unit, self._formula(section, line), "money", f"{section} {line}",
                           total=True)  # fmt: skip
            sheet.names[f"rows {section}"] = sheet.years_of(first, sheet.row - 1)
            sheet.line(
                f"{title}, sum", self.unit, f"SUM([rows {section}])", "total_money", f"sum {section}", total=True
            )
        sheet.rows(TAX, unit=self.unit)
        taxed = {"headline": "[sum paid]+[sum released]", "avoided": "[sum avoided]", "sales": "[sum sales]"}
        bases = zip(taxed, ("-[written off]", "+[base headline]", "+[base avoided]"), strict=True)
        for kind, more in bases:
            sheet.rows(TAX_OF_CLASS, unit=self.unit, kind=kind, taxed=taxed[kind], base=taxed[kind] + more)
        sheet.rows(FIGURES, unit=self.unit)
        if sheet.row != sheet.end:
            raise ValueError(f"the statement on {self.name} ends in row {sheet.row}, not {sheet.end}")

    def _formula(self, section: str, line: str) -> str:
        """A line of the statement: of the case and its people as a whole, from its options, or from its gains."""
        whole = self._of_the_whole(line)
        if whole or section in ("purchase", "paid"):
            return whole or self._of_options(line)
        kind = "avoided" if section == "avoided" else "released"
        return "+".join(f"[{kind} {key}]" for item, key in self.items if item.line == line) or "0"

    def _of_the_whole(self, line: str) -> str:
        begins, bought = "IF([y]=[begins],1,0)", f"bundle_adjustment {self.name}"
        any_bought = f"IF(SUM([{bought}])>0,1,0)" if bought in self.book.names else "0"
        wages, rule = f"[production_weeks]*{self.options.level(line)}*[inside]", 'IF([count_posts]="yes",1,0)'
        return {
            "training": f"-[training_cost]*[waited]*{any_bought}*{begins}",
            "installation_stop": f"-[stop cost]*{self.options.level('installation_stop')}*{begins}",
            "posts_added": f"-[added a week]*{wages}*[in use]",
            "posts": f"[given a week]*{wages}*[settled]*{rule}",
            "agency": f"[agency a week]*{wages}*[settled]*{rule}",
        }.get(line, "")

    def _of_options(self, line: str) -> str:
        known, name = self.book.names, self.name
        blocks = self.options.singles.get(line, [line])
        found = [f"SUMPRODUCT([{block} {name}],[{block}])" for block in blocks if block in known]
        once = "*[waited]*IF([y]=[first_payment],1,0)"
        if line == "bundle_adjustment" and found:
            found = [f"IF(SUM([{line} {name}])>1,{found[0]},0)"]
        if line == "capital_line":
            found += [f"-MAX(0,MAX([bundle {i} {name}])){once}" for i in range(len(self.options.bundles))]
        return "+".join(found).replace("+-", "-") or "0"

    def _measures(self) -> None:
        """One number each, at the top; their workings stand below all others."""
        sheet = self.sheet
        sheet.heading("Workings of the measures")
        for name, step in (("so far", "[flow headline]"), ("worth so far", "[flow headline]*[from first]")):
            sheet.rows(PAYBACK, unit=self.unit, name=name, step=step)
        sheet.rows(RATES, unit=self.unit)
        sheet.row = self.top
        for key, words, look, formula in MEASURES:
            sheet.scalar(words, "", formula, f"total_{look}", key)
