"""German dates and times in the same shape as the English ones; what is typed is day, month, year."""

DATE_FORMAT = "D j. M Y"
SHORT_DATE_FORMAT = "j. M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = SHORT_DATETIME_FORMAT = "D j. M Y, H:i"
YEAR_MONTH_FORMAT = "F Y"
MONTH_DAY_FORMAT = "D j. M"
FIRST_DAY_OF_WEEK = 1
DECIMAL_SEPARATOR = ","
THOUSAND_SEPARATOR = "\u202f"
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%d %m %Y"]
TIME_INPUT_FORMATS = ["%H:%M", "%H.%M", "%H:%M:%S"]
DATETIME_INPUT_FORMATS = ["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%d/%m/%Y %H:%M", "%d.%m.%Y %H:%M"]
