package polygon

import (
	"errors"
	"math"
	"math/bits"
	"testing"

	"github.com/paulmach/orb"
)

// Two squares that overlap by a quarter are joined, 7 m², or it is said by name that they
// cannot be: never anything else. (`GOARCH=386 go test` joined them to nothing.)
func TestJoinedOrSaid(t *testing.T) {
	square := func(at float64) orb.Polygon {
		return orb.Polygon{{{at, at}, {at + 2, at}, {at + 2, at + 2}, {at, at + 2}, {at, at}}}
	}
	joined, err := Union(orb.MultiPolygon{square(100), square(101)})
	switch {
	case bits.UintSize == 64 && (err != nil || !(math.Abs(AreaM2(joined)-7) <= 1e-9)):
		t.Errorf("joined to %g m² (%v); want 7", AreaM2(joined), err)
	case bits.UintSize == 32 && !errors.Is(err, ErrNarrow):
		t.Errorf("joined to %g m² (%v); want %v", AreaM2(joined), err, ErrNarrow)
	}
}
