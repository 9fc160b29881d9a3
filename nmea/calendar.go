// Dates of the Gregorian calendar as days since 1970. Package time is slower: it
// handles time zones.

package nmea

const (
	nsPerSecond int64 = 1e9
	nsPerDay    int64 = 86400 * nsPerSecond
)

// daysFromCivil returns the number of days from 1970-01-01 to a date of the
// years 1 to 9999, negative before 1970.
//
// It counts years from March, so that a leap day is the last day of its year.
// Month m after March then starts on day (153·m + 2)/5 of the year (from memory:
// Howard Hinnant, "chrono-Compatible Low-Level Date Algorithms",
// days_from_civil).
func daysFromCivil(year, month, day int64) int64 {
	if month > 2 {
		month -= 3
	} else {
		month += 9
		year--
	}
	era := year / 400
	yearOfEra := year - era*400
	dayOfYear := (153*month+2)/5 + day - 1
	return era*146097 + yearOfEra*365 + yearOfEra/4 - yearOfEra/100 + dayOfYear - 719468
}

// civilFromDays returns the date that is so many days after 1970-01-01. It is
// the inverse of daysFromCivil, from the same source.
func civilFromDays(days int64) (year, month, day int64) {
	days += 719468
	era := days / 146097
	if days < 0 {
		era = (days - 146096) / 146097
	}
	dayOfEra := days - era*146097
	yearOfEra := (dayOfEra - dayOfEra/1460 + dayOfEra/36524 - dayOfEra/146096) / 365
	dayOfYear := dayOfEra - (365*yearOfEra + yearOfEra/4 - yearOfEra/100)
	m := (5*dayOfYear + 2) / 153
	day = dayOfYear - (153*m+2)/5 + 1
	month = m + 3
	year = yearOfEra + era*400
	if month > 12 {
		month -= 12
		year++
	}
	return year, month, day
}

var daysInMonth = [...]int64{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

// validDate reports whether the date exists, in the years 1 to 9999. A year
// divisible by 4 is a leap year, unless it is divisible by 100 and not by 400.
func validDate(year, month, day int64) bool {
	if year < 1 || year > 9999 || month < 1 || month > 12 || day < 1 {
		return false
	}
	leap := year%4 == 0 && (year%100 != 0 || year%400 == 0)
	return day <= daysInMonth[month-1] || leap && month == 2 && day == 29
}

// TimeOfDayNs returns the time since the UTC midnight before timeNs, from 0 to
// less than a day. timeNs is in nanoseconds since 1970 and may be negative.
func TimeOfDayNs(timeNs int64) int64 {
	t := timeNs % nsPerDay
	if t < 0 {
		t += nsPerDay
	}
	return t
}
