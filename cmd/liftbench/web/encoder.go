// JSON appended piece by piece. An answer holds tens of thousands of numbers,
// so none of them is boxed in a value of its own.

package web

import (
	"encoding/json"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// encoder appends JSON.
type encoder struct{ b []byte }

// comma appends a comma before the next value, if one is needed.
func (e *encoder) comma() {
	if n := len(e.b); n > 0 {
		switch e.b[n-1] {
		case '[', '{', ':', ',':
		default:
			e.b = append(e.b, ',')
		}
	}
}

// open appends the opening bracket of a list or an object.
func (e *encoder) open(c byte) {
	e.comma()
	e.b = append(e.b, c)
}

// close appends the closing bracket.
func (e *encoder) close(c byte) { e.b = append(e.b, c) }

func (e *encoder) key(name string) {
	e.comma()
	e.b = strconv.AppendQuote(e.b, name) // names are plain letters
	e.b = append(e.b, ':')
}

func (e *encoder) int(x int64) {
	e.comma()
	e.b = strconv.AppendInt(e.b, x, 10)
}

// scaled appends x times by as a whole number; null if x is no number.
func (e *encoder) scaled(x, by float64) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		e.null()
		return
	}
	e.int(int64(math.Round(x * by)))
}

// mm appends metres as millimetres; for radians and metres per second it makes
// thousandths.
func (e *encoder) mm(x float64) { e.scaled(x, 1000) }

// bool appends 1 or 0.
func (e *encoder) bool(v bool) {
	if v {
		e.int(1)
		return
	}
	e.int(0)
}

func (e *encoder) null() { e.raw([]byte("null")) }

// raw appends text that is JSON already.
func (e *encoder) raw(text []byte) {
	e.comma()
	e.b = append(e.b, text...)
}

// value appends v as encoding/json writes it, which must not fail.
func (e *encoder) value(v any) {
	text, err := json.Marshal(v)
	if err != nil {
		text = []byte("null")
	}
	e.raw(text)
}

// ring appends east, north, east, north … of the corners.
func (e *encoder) ring(r orb.Ring) {
	e.open('[')
	for _, p := range r {
		e.mm(p[0])
		e.mm(p[1])
	}
	e.close(']')
}

func (e *encoder) rings(mp orb.MultiPolygon) {
	e.open('[')
	for _, p := range mp {
		for _, r := range p {
			e.ring(r)
		}
	}
	e.close(']')
}
