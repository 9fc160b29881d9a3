// Times at which the signals fail, at random.

package receiver

import "math/rand/v2"

// Spells are times at random, in seconds and hours of the drive: after each
// the next begins after an exponentially distributed wait with the mean of
// 1/PerHour, and lasts exponentially with the mean MeanS. So PerHour counts
// hours without a spell, and 1/(1 + 3600/(PerHour·MeanS)) of the time is in
// one. The zero value is none.
type Spells struct {
	PerHour float64 // 0 to 3600
	MeanS   float64 // above 0 where PerHour is
}

// A receiver that fails more often than once a second, or for longer than a
// day, is no case for spells.
const (
	maxSpellsPerHour = 3600
	maxSpellS        = 86400
)

// spells is one course of Spells.
type spells struct {
	rng          *rand.Rand
	waitS, meanS float64
	fromNs, toNs int64 // the spell that is on, or comes next
	number       int   // of that spell, from 1
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

// exponentialNs is a duration at random with that mean, a generation at most.
func (c *spells) exponentialNs(meanS float64) int64 {
	const generationS = 1e9
	return int64(min(meanS*c.rng.ExpFloat64(), generationS) * 1e9)
}

// on reports whether an instant lies in a spell. Instants must come in order.
func (c *spells) on(timeNs int64) bool {
	for !c.never && timeNs >= c.toNs {
		c.draw()
	}
	return !c.never && timeNs >= c.fromNs
}
