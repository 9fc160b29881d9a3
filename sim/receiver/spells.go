// This file draws the random times at which reception fails.

package receiver

import "math/rand/v2"

// Spells describes times of bad reception that come at random. The wait from the
// end of one spell to the start of the next is exponentially distributed with a
// mean of 1/PerHour hours; a spell's length is exponentially distributed with
// the mean MeanS. So PerHour counts spells per hour of good reception, and a
// share of 1/(1 + 3600/(PerHour·MeanS)) of the time lies within a spell. With
// the zero value there are none.
type Spells struct {
	PerHour float64 // 0 to 3600
	MeanS   float64 // above 0 if PerHour is
}

// Limits of Spells: once a second, and a day long on average.
const (
	maxSpellsPerHour = 3600
	maxSpellS        = 86400
)

// spells draws one series of Spells.
type spells struct {
	rng          *rand.Rand
	waitS, meanS float64 // mean wait between spells, mean length of a spell
	fromNs, toNs int64   // the present spell, or else the next one
	number       int     // of that spell, from 1
	never        bool
}

func newSpells(rng *rand.Rand, s Spells, startNs int64) spells {
	if s.PerHour == 0 {
		return spells{never: true}
	}
	c := spells{rng: rng, waitS: 3600 / s.PerHour, meanS: s.MeanS, toNs: startNs}
	c.draw()
	return c
}

func (c *spells) draw() {
	c.number++
	c.fromNs = c.toNs + c.exponentialNs(c.waitS)
	c.toNs = c.fromNs + c.exponentialNs(c.meanS)
}

// exponentialNs draws an exponentially distributed duration, at most 31 years.
func (c *spells) exponentialNs(meanS float64) int64 {
	const longestS = 1e9
	return int64(min(meanS*c.rng.ExpFloat64(), longestS) * 1e9)
}

// on reports whether timeNs lies in a spell. Times must not decrease from call
// to call.
func (c *spells) on(timeNs int64) bool {
	for !c.never && timeNs >= c.toNs {
		c.draw()
	}
	return !c.never && timeNs >= c.fromNs
}
