"""German: 3. März 2026, 14:05; times are typed and read as in English, by the 24-hour clock."""

DATE_FORMAT = "j. F Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j. F Y, H:i"
SHORT_DATE_FORMAT = "j. M Y"
SHORT_DATETIME_FORMAT = "j. M Y, H:i"
MONTH_DAY_FORMAT = "j. F"
YEAR_MONTH_FORMAT = "F Y"
FIRST_DAY_OF_WEEK = 1
