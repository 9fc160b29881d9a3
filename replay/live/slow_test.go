//go:build linux

// How long live takes over a fix on a slow or foreign processor.

package live

import (
	"runtime"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"liftbench/replay/port"
)

// TestWorstTick takes the same drive several times, with 6, 24 and 96 sections at borders
// all the time: ticks, decisions and the line for the output. The time of a fix is the
// least of its runs, by the thread's processor time, so that what else the machine does
// counts little; the worst fix is the slowest of these. It judges only that the cost
// grows no faster than the number of sections, within one run. .ci/emulated counts the
// instructions between two calls of threadTime, for other processors: a change of how
// often and in which order it is called is one of the counting there.
func TestWorstTick(t *testing.T) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	const runs, fixesEach = 5, 400
	s, err := port.Parse("file:/dev/null")
	if err != nil {
		t.Fatal(err)
	}
	to, err := port.Open(t.Context(), s, port.Out, port.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer to.Close()
	worst := map[int]time.Duration{}
	for _, n := range []int{6, 24, 96} {
		e, fixes := warm(t, bar(n), []Output{{to, Line}})
		saved, when := e.ctl.AppendState(nil), e.when
		least := make([]time.Duration, fixesEach)
		for run := range runs {
			if err := e.ctl.Restore(saved); err != nil {
				t.Fatal(err)
			}
			e.when = when
			for i := range least {
				began := threadTime(t)
				e.take(&fixes[i])
				e.out.sendDue(fixes[i].TimeNs + 40e6)
				if took := threadTime(t) - began; run == 0 || took < least[i] {
					least[i] = took
				}
			}
		}
		total := time.Duration(0)
		for _, d := range least {
			worst[n] = max(worst[n], d)
			total += d
		}
		t.Logf("%2d sections: worst fix %v, mean %v", n, worst[n], total/fixesEach)
	}
	if worst[6] <= 0 || worst[96] > 16*4*worst[6] {
		t.Errorf("96 sections take %v and 6 take %v; want at most 4 times their share", worst[96], worst[6])
	}
}

// threadTime is the processor time of the thread so far.
func threadTime(t *testing.T) time.Duration {
	var at unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_THREAD_CPUTIME_ID, &at); err != nil {
		t.Fatal(err)
	}
	return time.Duration(at.Nano())
}
