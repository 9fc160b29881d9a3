package crash

import (
	"strings"
	"sync"
	"testing"
)

// A panic in a guarded goroutine is told to all who catch, with its stack, and
// ends nothing.
func TestGuard(t *testing.T) {
	var told [2]*Panic
	for i := range told {
		defer Catch(func(p *Panic) { told[i] = p })()
	}
	var group sync.WaitGroup
	group.Go(Guard(func() { panic("out of oil") }))
	group.Wait()
	for i, p := range told {
		if p == nil || p.Value != "out of oil" || !strings.Contains(p.Error(), "panic: out of oil\n") || !strings.Contains(p.Error(), "TestGuard") {
			t.Errorf("catcher %d was told %v", i, p)
		}
	}
}

func TestRun(t *testing.T) {
	told := 0
	release := Catch(func(*Panic) { told++ })
	if Run(func() {}) || told != 0 {
		t.Errorf("a function that returned counts as panicked, told %d times", told)
	}
	if !Run(func() { panic(1) }) || told != 1 {
		t.Errorf("a panic was told %d times; want once", told)
	}
	release()
	defer func() {
		if v := recover(); v != 2 || told != 1 {
			t.Errorf("with nobody to tell, a panic became %v, told %d times; want it to go on", v, told)
		}
	}()
	Run(func() { panic(2) })
}
