// Numbers and dates as each language writes them.

package language

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

const (
	thinSpace = "\u202f" // between groups of three digits, does not break
	noBreak   = "\u00a0" // between a number and its unit
	minus     = "\u2212"
)

// Number returns x with so many decimals. German and French have a decimal comma.
// Groups of three digits are parted from 10 000 on, in every language by a thin space
// (ISO 80000-1). What rounds to zero has no sign.
func (l Language) Number(x float64, decimals int) string {
	digits := strconv.FormatFloat(x, 'f', decimals, 64)
	digits, negative := strings.CutPrefix(digits, "-")
	negative = negative && strings.Trim(digits, "0.") != ""
	whole, part, _ := strings.Cut(digits, ".")
	if len(whole) > 4 {
		for i := len(whole) - 3; i > 0; i -= 3 {
			whole = whole[:i] + thinSpace + whole[i:]
		}
	}
	if part != "" {
		whole += l.DecimalMark() + part
	}
	if negative {
		return minus + whole
	}
	return whole
}

// DecimalMark is what stands before decimals.
func (l Language) DecimalMark() string {
	if l == English {
		return "."
	}
	return ","
}

// Signed is Number with a sign before what is above zero too.
func (l Language) Signed(x float64, decimals int) string {
	s := l.Number(x, decimals)
	if x > 0 && strings.Trim(s, "0.,") != "" {
		return "+" + s
	}
	return s
}

// Unit returns a number, already written, with its unit; it does not break between them.
func (l Language) Unit(number, unit string) string { return number + noBreak + unit }

// Percent returns a share of 1 as per cent, without the decimals that are zero.
func (l Language) Percent(share float64, decimals int) string {
	s := l.Number(share*100, decimals)
	if strings.ContainsAny(s, ".,") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".,")
	}
	return l.Unit(s, "%")
}

// months are those of English dates; German and French ones are written in digits.
var months = [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

// Date returns the day of t: 12 May 2026, 12.05.2026, 12/05/2026.
func (l Language) Date(t time.Time) string {
	switch l {
	case German:
		return t.Format("02.01.2006")
	case French:
		return t.Format("02/01/2006")
	}
	return fmt.Sprintf("%d%s%s%s%d", t.Day(), noBreak, months[t.Month()-1], noBreak, t.Year())
}
