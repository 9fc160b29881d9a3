// Which transition belongs to which crossing.

package score

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestPairs(t *testing.T) {
	for _, c := range []struct {
		name          string
		ideal, actual []int64
		window        int64
		want          []int
	}{
		{"nothing", nil, nil, 5, []int{}},
		{"no actual", []int64{1, 2}, nil, 5, []int{-1, -1}},
		{"no ideal", nil, []int64{1}, 5, []int{}},
		{"late and early", []int64{10, 20}, []int64{12, 19}, 5, []int{0, 1}},
		{"at the window", []int64{10}, []int64{15}, 5, []int{0}},
		{"beyond the window", []int64{10}, []int64{16}, 5, []int{-1}},
		{"two actual for one ideal: the nearer", []int64{10}, []int64{7, 11}, 5, []int{1}},
		{"two equally near: the earlier", []int64{10}, []int64{8, 12}, 5, []int{0}},
		{"one actual between two ideal: the nearer", []int64{10, 14}, []int64{13}, 5, []int{-1, 0}},
		{"one actual half way: the earlier", []int64{10, 14}, []int64{12}, 5, []int{0, -1}},
		{"one left out in the middle", []int64{10, 20, 30}, []int64{11, 31}, 5, []int{0, -1, 1}},
		{"a double actual", []int64{10, 20}, []int64{11, 11, 21}, 5, []int{0, 2}},
		{"far apart in one list", []int64{0, 100, 200, 300}, []int64{301}, 5, []int{-1, -1, -1, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := pairs(c.ideal, c.actual, c.window); !reflect.DeepEqual(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

// Pairs are those of a search through all of both lists; none is used twice
// and they keep their order.
func TestPairsProperties(t *testing.T) {
	times := rapid.Custom(func(t *rapid.T) []int64 {
		list := rapid.SliceOfDistinct(rapid.Int64Range(0, 200), func(v int64) int64 { return v }).Draw(t, "times")
		slices.Sort(list)
		return list
	})
	rapid.Check(t, func(t *rapid.T) {
		ideal, actual := times.Draw(t, "ideal"), times.Draw(t, "actual")
		window := rapid.Int64Range(0, 50).Draw(t, "window")
		closest := func(list []int64, to int64) int {
			best := -1
			for i, v := range list {
				if best < 0 || distance(v, to) < distance(list[best], to) {
					best = i
				}
			}
			return best
		}
		last := -1
		for i, a := range pairs(ideal, actual, window) {
			want := closest(actual, ideal[i])
			if want >= 0 && (closest(ideal, actual[want]) != i || distance(ideal[i], actual[want]) > window) {
				want = -1
			}
			if a != want {
				t.Fatalf("ideal %d of %v answered by %d of %v, want %d", i, ideal, a, actual, want)
			}
			if a >= 0 && a <= last {
				t.Fatalf("actual %d after %d", a, last)
			}
			last = max(last, a)
		}
	})
}

func TestSteady(t *testing.T) {
	on, off := true, false
	at := func(timeNs int64, on bool) change { return change{timeNs: timeNs, on: on} }
	for _, c := range []struct {
		name       string
		list, want []change
	}{
		{"nothing", nil, nil},
		{"long gap stays", []change{at(0, on), at(10, off), at(20, on)}, []change{at(0, on), at(10, off), at(20, on)}},
		{"short gap goes", []change{at(0, on), at(10, off), at(19, on), at(50, off)}, []change{at(0, on), at(50, off)}},
		{"two short gaps", []change{at(10, off), at(12, on), at(14, off), at(16, on)}, []change{}},
		{"short spell goes", []change{at(0, on), at(4, off), at(30, on), at(35, off)}, []change{at(30, on), at(35, off)}},
		{"at rest no time counts", []change{at(0, on), at(55, off), at(104, on), at(120, off)}, []change{at(0, on), at(120, off)}},
		{"at rest for a part", []change{at(0, on), at(55, off), at(105, on), at(120, off)}, []change{at(0, on), at(55, off), at(105, on), at(120, off)}},
		{"short gap before the first work stays", []change{at(1, on), at(50, off)}, []change{at(1, on), at(50, off)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := steady(slices.Clone(c.list), []pause{{60, 100}}, Options{GapNs: 10, SpellNs: 5}); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

// A change that was never sure goes with the one that took it back. Where a
// section goes to and fro before it is sure, the last change counts.
func TestUngrazed(t *testing.T) {
	sure := func(timeNs int64, on bool) change { return change{timeNs: timeNs, on: on, sure: true} }
	graze := func(timeNs int64, on bool) change { return change{timeNs: timeNs, on: on} }
	for _, c := range []struct {
		name       string
		list, want []change
	}{
		{"nothing", nil, nil},
		{"sure ones stay", []change{sure(0, true), sure(9, false)}, []change{sure(0, true), sure(9, false)}},
		{"a graze goes", []change{sure(0, true), graze(4, false), sure(5, true), sure(9, false)}, []change{sure(0, true), sure(9, false)}},
		{"a graze before the first", []change{graze(0, true), sure(1, false), sure(2, true)}, []change{sure(2, true)}},
		{"to and fro", []change{graze(0, true), graze(1, false), sure(2, true)}, []change{sure(2, true)}},
		{"the last is not over", []change{sure(0, true), graze(4, false)}, []change{sure(0, true), graze(4, false)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := ungrazed(slices.Clone(c.list)); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}
