"""Job lists of the tool switching problem as their sources print them: names of sources, tools by job.

A list is (capacity, ..., jobs written as ``1,4 | 2,3``), a set of tool numbers per job.
"""

from __future__ import annotations

PAGING = "reference string of operating-system textbooks, from memory; counts reckoned independently"
TANG = "Tang and Denardo 1988, Operations Research 36(5):767-777, tables I and III"
YANASSE = "Yanasse, Rodrigues and Senne 2009, Gestao e Producao 16(3):303-314, example TESTE1"
GHIANI = "Ghiani, Grieco and Guerriero 2010, Networks 55:379-385, example 1"
PRIVAULT = "Privault and Finke 1995, Journal of Intelligent Manufacturing 6:87-94 (after Crama 1991)"
CRAMA = "Crama, Kolen, Oerlemans and Spieksma 1994, IJFMS 6:33-54, test problem"
CATANZARO = "Catanzaro, Gouveia and Labbe 2015, EJOR 244:766-777, test problem"
CRAMA_EXAMPLE = "Crama, Kolen, Oerlemans and Spieksma 1994, IJFMS 6:33-54, example 1: three gaps, two can be kept"
LAPORTE = "set of Laporte, Salazar-Gonzalez and Semet 2004, IIE Transactions 36:37-45; optimum certified by MIP solvers"
OWN = "worked out by dynamic programming and by enumeration, independently"


def jobs_of(text: str) -> list[set[int]]:
    """Jobs written as ``1,4 | 2,3``."""
    return [{int(tool) for tool in job.split(",")} for job in text.split("|")]


def picked(jobs: list[set[int]], numbers: str) -> list[set[int]]:
    """Jobs by their printed numbers, as in ``7,2,5``."""
    return [jobs[int(number) - 1] for number in numbers.split(",")]


PAGES = [{page} for page in (7, 0, 1, 2, 0, 3, 0, 4, 2, 3, 0, 3, 2, 1, 2, 0, 1, 7, 0, 1)]
ANOMALY = [{page} for page in (1, 2, 3, 4, 1, 2, 5, 1, 2, 3, 4, 5)]
TANG_JOBS = jobs_of("1,4,8,9 | 1,3,5 | 2,6,7,8 | 7 | 6 | 3 | 1,5,7,9 | 3,5,8 | 5,7 | 1,2,4")
YANASSE_JOBS = jobs_of("1,4 | 1,3,5 | 2,4 | 3,4 | 1,5 | 3,5 | 4,5 | 1,2,4")
GHIANI_JOBS = jobs_of("1,3,8,9 | 1,2,5,9 | 1,4,9 | 1,6,7")
PRIVAULT_JOBS = jobs_of("2,3 | 1,2 | 3 | 1 | 1,3")
CRAMA_JOBS = jobs_of("2,3 | 1,2 | 3 | 3 | 1 | 1,3")
LAPORTE_JOBS = {
    "L1-7": (5, jobs_of("4,5,10,11,12|10,15|2,10,11|3,6,9,12,13|2,3,6,11|1,2,3,13,14|5,8,10,11,14|6,7,8,9,15")),
    "L6-1": (10, jobs_of("6,11,13,16,18,19,20|1,2,3,6,12,16,17,18|1,2,4,6,7,8,11,18,19|4,5,7,8,12,13,14,17,18,19"
                         "|5,6,9,10,12,15,17,20|3,5,9,13,18|1,3,4,8,13,14,16,18,19|1,4,5,7,13,14,15,16,18,20")),
}  # fmt: skip
LISTED = {
    "s1n001": (4, 12, CRAMA, "2,6 | 1,3,9 | 4,7 | 4,8 | 2,3,5,7 | 2,3,5,9 | 2,4,9 | 6,8,9 | 4,9,10 | 7,8"),
    "s1n002": (4, 16, CRAMA, "2,3,6,7 | 2,5,8 | 5,9,10 | 1,7,9,10 | 2,9 | 3,8,9,10 | 2,4 | 5,7,8,9 | 5,6,10 | 1,3,6,8"),
    "s1n005": (4, 16, CRAMA, "6,7,10 | 3,9 | 1,5,6,8 | 2,8 | 4,9 | 1,8,9 | 4,5,6,8 | 4,7 | 1,2,7,10 | 1,4,5,8"),
    "datA1": (4, 14, CATANZARO, "6,7 | 2,3 | 1,6,9 | 1,5,9 | 5,8,10 | 1,3,6,8 | 5,6,8,9 | 5,7,8 | 1,4,5,8 | 1,2,4,10"),
}
OWN_LISTS = {
    "OWN-1": (8, 21, 24, "1,3,9,10,11,12|1,2,6,7,10,16|1,2,3,4,6,11|1,2,3,5,6,9,14|1,2,3,9,11,13,15|1,2,3,5,7,8"
              "|1,2,9,10,15|1,4,7,16"),
    "OWN-2": (12, 33, 37, "1,2,3,5,6,7,8,9,17,23,24|1,3,4,5,10,16,19|4,6,9,23,24|1,2,3,4,5,7,9,10,11,15,22,23"
              "|1,2,3,7,8,10,12,13,17|1,2,3,4,5,8,10|1,2,3,5,6,8,13,14,19,21,24|1,2,3,5,6,8,10,13,15,17,18,21"
              "|1,2,5,6,7,11,21"),
    "OWN-3": (10, 25, 28, "2,7,8,12,14,15,16|1,2,4,5,13|1,13,20|2,4,10,12,13,14,18|2,3,4,6,7,8,10,15,20|1,2,3,6,15"
              "|1,4,6,7,9,15|1,3,7,9,12,13,14,15,17,19|1,3,6,7,9,10"),
    "OWN-4": (16, 28, 33, "2,3,7,9,14,15|1,3,4,11,12,16|1,2,3,6,10,11,17,21|1,2,3,10,29|1,4,6,8,10,11,14,21,22,23,25"
              "|1,2,5,6,7,12,14,17,18|1,2,3,4,5,6,7,8,9,13,17,18,29|1,2,3,6,12,13,16,23,27,30"),
}  # fmt: skip
