// How tables and messages print words, figures, times and lines.

package wording

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Counted puts a number before a noun.
func Counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// KeyLine prints a name and what it is, aligned.
func KeyLine(b *strings.Builder, key, format string, args ...any) {
	fmt.Fprintf(b, "  %-16s %s\n", key, fmt.Sprintf(format, args...))
}

// Trim prints a figure with at most two decimals.
func Trim(x float64) string {
	return fmt.Sprintf("%g", RoundTo(x, 0.01)+0) // -0 + 0 = 0
}

// LiftsPerHa prints how often sections lift and drop per hectare worked.
func LiftsPerHa(lifts, drops float64) string {
	if math.Round(lifts) == math.Round(drops) {
		return fmt.Sprintf("%.0f lifts and as many drops per hectare worked", lifts)
	}
	return fmt.Sprintf("%.0f lifts and %.0f drops per hectare worked", lifts, drops)
}

// Clock prints a duration to the second.
func Clock(s float64) string {
	return (time.Duration(s) * time.Second).String()
}

// Wrap breaks text into lines of at most 79 columns.
func Wrap(first, rest, text string) string {
	var b strings.Builder
	line := first
	empty := true
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '\n' || r == '\t' }) {
		if !empty && len([]rune(line))+1+len([]rune(word)) > 79 {
			b.WriteString(line + "\n")
			line, empty = rest, true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	return b.String() + line + "\n"
}

// RoundTo rounds x to a multiple of step: conversions of round numbers come
// out round.
func RoundTo(x, step float64) float64 {
	n := math.Round(1 / step)
	return math.Round(x*n) / n
}

// AppendFixed appends x with so many decimals; what rounds to zero has no sign.
func AppendFixed(b []byte, x float64, decimals int) []byte {
	from := len(b)
	b = strconv.AppendFloat(b, x, 'f', decimals, 64)
	if b[from] != '-' {
		return b
	}
	for _, c := range b[from+1:] {
		if c != '0' && c != '.' {
			return b
		}
	}
	return append(b[:from], b[from+1:]...)
}

// AppendTime appends a time in RFC 3339 with microseconds.
func AppendTime(b []byte, ns int64) []byte {
	return time.Unix(0, ns).UTC().AppendFormat(b, "2006-01-02T15:04:05.000000Z")
}

// BearingDeg returns a bearing in degrees, [0, 360).
func BearingDeg(rad float64) float64 {
	d := math.Mod(rad*180/math.Pi, 360)
	if d < 0 {
		d += 360
	}
	return d
}
