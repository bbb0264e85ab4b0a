"""Names of months and days in seven languages, folded, as the CLDR has them.

Source: Unicode Common Locale Data Repository, calendars/gregorian, months and days in the widths
"wide" and "abbreviated" of en, de, pt, fr, es, it and nl; Austrian "Jänner" and "Feber" of de-AT.
Written from memory of it.
"""

from __future__ import annotations

_MONTHS = (
    "january jan januar janner janeiro janvier janv enero ene gennaio gen januari",
    "february feb februar feber fevereiro fev fevrier fevr febrero febbraio febr februari",
    "march mar marz mrz maerz marco mars marzo maart mrt",
    "april apr abril abr avril avr aprile",
    "may mai maio mayo maggio mag mei",
    "june jun juni junho juin junio giugno giu",
    "july jul juli julho juillet juil julio luglio lug",
    "august aug agosto ago aout augustus",
    "september sep sept setembro set septembre septiembre settembre",
    "october oct oktober okt outubro out octobre octubre ottobre ott",
    "november nov novembro novembre noviembre",
    "december dec dezember dez dezembro decembre diciembre dic dicembre",
)
MONTH_OF = {word: number for number, words in enumerate(_MONTHS, 1) for word in words.split()}
"""Number of a month by its folded name."""

_DAYS = (
    "monday mon montag mo lundi lun lunes lunedi maandag ma segunda seg segunda feira",
    "tuesday tue tues dienstag di mardi martes martedi mar dinsdag terca ter terca feira",
    "wednesday wed mittwoch mi mercredi mer miercoles mie mercoledi woensdag wo quarta qua",
    "thursday thu thur thurs donnerstag do jeudi jeu jueves jue giovedi gio donderdag quinta qui",
    "friday fri freitag fr vendredi ven viernes vie venerdi vrijdag vr sexta sex",
    "saturday sat samstag sa sonnabend samedi sam sabado sab sabato zaterdag za",
    "sunday sun sonntag so dimanche dim domingo dom domenica zondag zo",
)
DAY_OF: dict[str, set[int]] = {}
for _number, _words in enumerate(_DAYS):
    for _word in _words.split():
        DAY_OF.setdefault(_word, set()).add(_number)
del DAY_OF["mar"]  # March in five of the languages, a day in two
"""Days of the week, Monday being 0, by their folded name; a short one may name two."""
