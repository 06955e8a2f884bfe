"""English dates and times: `Tue 3 Mar 2026, 14:30`; what is typed is day, month, year."""

DATE_FORMAT = "D j M Y"
SHORT_DATE_FORMAT = "j M Y"  # a day of birth
TIME_FORMAT = "H:i"
DATETIME_FORMAT = SHORT_DATETIME_FORMAT = "D j M Y, H:i"
YEAR_MONTH_FORMAT = "F Y"
MONTH_DAY_FORMAT = "D j M"
FIRST_DAY_OF_WEEK = 1  # Monday
DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = "\u202f"
# The first of them is also how a value is written back into its field.
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%d %m %Y", "%d %b %Y", "%d %B %Y"]
TIME_INPUT_FORMATS = ["%H:%M", "%H.%M", "%H:%M:%S"]
DATETIME_INPUT_FORMATS = ["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%d/%m/%Y %H:%M", "%d.%m.%Y %H:%M"]
