package report

import (
	"strings"
	"testing"

	"liftbench/cmd/liftbench/language"
)

// From three metres and three seconds on, people say metres and seconds.
func TestSizesAsPeopleSayThem(t *testing.T) {
	r := &dayPage{t: catalogue().In(language.German)}
	said := strings.ReplaceAll(strings.Join([]string{
		r.lengths(true, 0.121)[0], r.lengths(false, 19.077)[0], strings.Join(r.lengths(true, -0.5, 3.1), ", "),
		r.times(true, -2.23)[0], r.times(false, 8.061)[0],
		r.size(0.3, nil, "m"), r.size(3.104, nil, "m"),
	}, "; "), "\u00a0", " ")
	if want := "+12,1 cm; 19,08 m; −0,50 m, +3,10 m; −2230 ms; 8,06 s; +30,0 cm; +3,10 m"; said != want {
		t.Errorf("%s, want %s", said, want)
	}
}
