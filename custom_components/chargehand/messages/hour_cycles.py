"""Which languages and countries write the time of day with AM and PM.

As the user interface decides where a profile says "auto": by what ECMAScript's `Date.toLocaleString` writes for the language, which goes by
the time data of CLDR. The tables are those of CLDR 48 (ICU 78.2) for the languages that Home Assistant has.
"""

TWELVE = {
    "ar": "BH DJ EG ER IL IQ JO KM KW LB MA MR OM PS QA SA SD SO SS SY TD YE",
    "el": "",
    "en": (
        "AI AT BE BI BW BZ CC CH CK CM CX CZ DE DK EE ES FI FK FR GB GE GG GI GS HU ID IE IL IM IO IT JE JP KE LT LV MG MS MT MU MV NF NG NL"
        " NO NR NU PL PN PT RO RW SC SE SH SI SK SX TK TV TZ UA UG ZA ZW"
    ),
    "hi": "",
    "ko": "CN",
    "ml": "",
    "sq": "MK XK",
    "ta": "LK",
    "te": "",
    "ur": "IN",
    "zh-Hant": "",
}
"""Languages with AM and PM, and the countries where they do without."""

TWENTY_FOUR = {
    "af": "NA",
    "es": "419 AR BO CL CO CR CU DO EC GT HN MX NI PA PE PH PR PY SV US UY VE",
    "fr": "DJ DZ MR SY TD TN VU",
    "pt": "MO",
    "tr": "CY",
    "zh-Hans": "HK MO MY SG",
}
"""Languages without, and the countries where they write AM and PM all the same. All other languages never do."""


def has_am_and_pm(language: str, country: str | None) -> bool:
    """Return whether times are written with AM and PM, for a language as Home Assistant names it and a country's code.

    A region in the language's own tag (`en-GB`) goes before the country.
    """
    base, *subtags = language.split("-")
    script = next((one for one in subtags if len(one) == 4), None)
    region = next((one for one in subtags if len(one) in (2, 3)), country or "")
    name = f"{base}-{script}" if base == "zh" and script is not None else base
    if name in TWELVE:
        return region not in TWELVE[name].split()
    return region in TWENTY_FOUR.get(name, "").split()
