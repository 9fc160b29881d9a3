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
	Moves  [][]int32   // of each row, whose mean it is
	Weight []float64
	FloorM float64 // no row is believed to scatter less
	Tried  *Tried
}

// Tried keeps the columns of pumps that were tried, for the next search on the same moves and
// rows.
type Tried struct {
	all, part map[Shortage][]float64
	sharing   *Sharing // of the part
	rows      []int    // which it is
}

// NewTried is that of no pump.
func NewTried() *Tried {
	return &Tried{all: map[Shortage][]float64{}, part: map[Shortage][]float64{}}
}

// firstRows is how many rows tell about how much a pump feeds. Of a longer day the first look,
// at a hundred pumps, takes every so manieth lift and drop.
const firstRows = 200

// part is every so manieth row, and the sharing of its moves; nil if there are few.
func (s *Sharing) part(rows *Rows) (*Sharing, *Rows) {
	every := len(rows.Y) / firstRows
	if every < 2 {
		return nil, nil
	}
	t := rows.Tried
	if t.sharing == nil {
		in := map[int]bool{}
		for r := range rows.Y {
			if r/2%every == 0 { // a drop and a lift, in turns
				t.rows = append(t.rows, r)
				for _, i := range rows.Moves[r] {
					in[int(i)] = true
				}
			}
		}
		t.sharing = s.only(in)
	}
	part := &Rows{FloorM: rows.FloorM, Beside: make([][]float64, len(rows.Beside))}
	for _, r := range t.rows {
		part.Y, part.Moves, part.Weight = append(part.Y, rows.Y[r]), append(part.Moves, rows.Moves[r]), append(part.Weight, rows.Weight[r])
		for k := range part.Beside {
			part.Beside[k] = append(part.Beside[k], rows.Beside[k][r])
		}
	}
	return t.sharing, part
}

// column is how late moves are by a pump, in m, as a column of the rows.
func (r *Rows) column(lateS []float64, moves []Move) []float64 {
	col := make([]float64, len(r.Y))
	for k, list := range r.Moves {
		for _, i := range list {
			col[k] += lateS[i] * moves[i].SpeedMps
		}
		col[k] *= r.Weight[k] / float64(len(list))
	}
	return col
}

// fitsOtherKinds is what a pump that moves drops, or drops too, must explain more than one
// that moves lifts, in variances of a row.
const fitsOtherKinds = 6.0

// Find returns the pump that explains the rows best; found is nil if none does better than
// chance.
func (s *Sharing) Find(moves []Move, rows *Rows) (x Shortage, found *pump.Estimate) {
	for _, k := range [...]Kind{Lifts, Both, Drops} {
		search := s.search(k, moves, rows, rows.Tried.all)
		if few, part := s.part(rows); few != nil {
			search.Part = few.search(k, moves, part, rows.Tried.part)
		}
		e, ok := search.Find()
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

// FindFrom is Find; with near, the rows hardly differ from those on which x was found as e, and
// it is looked for around that first. stillNear is false if that was not enough. If none does
// better than chance it is OneFed, not found.
func (s *Sharing) FindFrom(x Shortage, e *pump.Estimate, near bool, moves []Move, rows *Rows) (found Shortage, as *pump.Estimate, stillNear bool) {
	if near {
		if n, ok := s.search(x.Kind, moves, rows, rows.Tried.all).Near(*e); ok {
			return Shortage{Kind: x.Kind, Fed: n.Fed, StoreS: n.StoreS}, &n, true
		}
	}
	if found, as = s.Find(moves, rows); as == nil {
		found = OneFed
	}
	return found, as, false
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
					one = rows.column(late, moves)
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
