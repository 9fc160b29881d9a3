// The pump that explains how late the moves of a leg were.

package evidence

import (
	"slices"

	"liftbench/replay/diagnose/pump"
)

// Rows is what a pump is to explain: one row for each crossing.
type Rows struct {
	Y      []float64   // lateness, weighted
	Beside [][]float64 // columns of other causes
	// Column is the column of what is given for each move, in m.
	Column func(lateM []float64) []float64
	FloorM float64 // no row is believed to scatter less
	// Tried keeps the columns of pumps that were tried, for the next search on the same rows.
	Tried map[Shortage][]float64
}

// fitsOtherKinds is what a pump that moves drops, or drops too, must explain more than one
// that moves lifts, in variances of a row.
const fitsOtherKinds = 6.0

// Find returns the pump that explains the rows best; found is nil if none does better than
// chance.
func (s *Sharing) Find(moves []Move, rows *Rows) (x Shortage, found *pump.Estimate) {
	for _, k := range [...]Kind{Lifts, Both, Drops} {
		e, ok := s.search(k, moves, rows, rows.Tried).Find()
		if !ok {
			continue
		}
		if found != nil {
			noise := max(min(e.RSS, found.RSS)/float64(e.DF), rows.FloorM*rows.FloorM)
			if e.RSS+fitsOtherKinds*noise > found.RSS {
				continue
			}
		}
		x, found = Shortage{Kind: k, Fed: e.Fed, StoreS: e.StoreS}, &e
	}
	return x, found
}

// FedInterval is the 95 % interval of how many sections a pump feeds; standard errors are by
// times as wide as those of the rows.
func (s *Sharing) FedInterval(x Shortage, e *pump.Estimate, moves []Move, rows *Rows, by float64) [2]float64 {
	return s.search(x.Kind, moves, rows, map[Shortage][]float64{}).Interval(e, by)
}

// search is the search for a pump of a kind. tried keeps the columns that were computed, of
// lifts and of drops apart.
func (s *Sharing) search(k Kind, moves []Move, rows *Rows, tried map[Shortage][]float64) *pump.Search {
	_, beside := s.LateS(len(moves), Shortage{Kind: k, Fed: 1})
	most, moveS := s.ways[0].pump.Fed, s.ways[0].pump.MoveS
	if k == Drops {
		most, moveS = s.ways[1].pump.Fed, s.ways[1].pump.MoveS
	}
	return &pump.Search{
		Y: rows.Y, Beside: rows.Beside, FloorM: rows.FloorM, MoveS: moveS,
		Most: min(slices.Max(beside)+1, most),
		Late: func(fed, storeS float64) []float64 {
			col := make([]float64, len(rows.Y))
			for _, way := range [...]Kind{Lifts, Drops} {
				if k != Both && k != way {
					continue
				}
				x := Shortage{Kind: way, Fed: fed, StoreS: storeS}
				one, ok := tried[x]
				if !ok {
					late, _ := s.LateS(len(moves), x)
					for i := range late {
						late[i] *= moves[i].SpeedMps
					}
					one = rows.Column(late)
					tried[x] = one
				}
				for r := range col {
					col[r] += one[r]
				}
			}
			return col
		},
	}
}
