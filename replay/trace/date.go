// This file reads dates.

package trace

import (
	"bytes"
	"time"
)

// months are the first letters of the months as loggers write them, English and
// German.
var months = []struct {
	name  string
	month time.Month
}{
	{"jan", 1}, {"feb", 2}, {"mar", 3}, {"m\u00e4r", 3}, {"m\xe4r", 3}, {"mrz", 3}, {"apr", 4}, {"may", 5}, {"mai", 5},
	{"jun", 6}, {"jul", 7}, {"aug", 8}, {"sep", 9}, {"oct", 10}, {"okt", 10}, {"nov", 11}, {"dec", 12}, {"dez", 12},
}

// wordDate returns the date in words such as Wed Oct 19 07:30:52.190 2022, with
// AM or PM before the year or without, in nanoseconds since 1970 as if it were
// UTC. It ignores the day of the week.
func wordDate(f [][]byte) (int64, bool) {
	if len(f) < 5 {
		return 0, false
	}
	month := time.Month(0)
	lower := bytes.ToLower(f[1])
	for _, m := range months {
		if bytes.HasPrefix(lower, []byte(m.name)) || bytes.HasPrefix(f[1], []byte(m.name)) || string(f[1]) == "M\xe4r" && m.month == 3 {
			month = m.month
		}
	}
	day, ok1 := number(f[2], 10)
	half := half(0)
	year := f[4]
	if len(f) > 5 && bytes.EqualFold(f[4], []byte("AM")) {
		half, year = am, f[5]
	}
	if len(f) > 5 && bytes.EqualFold(f[4], []byte("PM")) {
		half, year = pm, f[5]
	}
	y, ok2 := number(year, 10)
	if !ok1 || !ok2 || month == 0 {
		return 0, false
	}
	return dateTime(int(y), month, int(day), f[3], half)
}

// half is a half of the day; 0 = the hours count to 24.
type half uint8

const (
	am half = 1 + iota
	pm
)

// isoTime returns a date such as 2022-10-19 and a time such as 07:30:52.190 in
// nanoseconds since 1970.
func isoTime(day, clock []byte) (int64, bool) {
	if len(day) != 10 || day[4] != '-' || day[7] != '-' {
		return 0, false
	}
	y, ok1 := number(day[:4], 10)
	m, ok2 := number(day[5:7], 10)
	d, ok3 := number(day[8:], 10)
	if !ok1 || !ok2 || !ok3 {
		return 0, false
	}
	return dateTime(int(y), time.Month(m), int(d), clock, 0)
}

// dateTime returns a date and a time such as 07:30:52.190 in nanoseconds since
// 1970.
func dateTime(year int, month time.Month, day int, clock []byte, h half) (int64, bool) {
	if len(clock) < 7 {
		return 0, false
	}
	hour, clock, _ := bytes.Cut(clock, []byte(":"))
	minute, second, _ := bytes.Cut(clock, []byte(":"))
	hh, ok1 := number(hour, 10)
	mm, ok2 := number(minute, 10)
	ss, ok3 := scaled(second)
	switch {
	case h == am && hh == 12:
		hh = 0
	case h == pm && hh < 12:
		hh += 12
	}
	if !ok1 || !ok2 || !ok3 || hh > 23 || mm > 59 || ss >= 61e9 || year < 1970 || year > 2261 || month < 1 || month > 12 || day < 1 || day > 31 {
		return 0, false
	}
	start := time.Date(year, month, day, int(hh), int(mm), 0, 0, time.UTC)
	if start.Day() != day && hh < 24 {
		return 0, false
	}
	return start.UnixNano() + ss, true
}
