// Package crash keeps a panic in one goroutine from ending the program while
// tools are in work. Go ends a program at once when a goroutine panics, and no
// other goroutine can prevent it. A goroutine started with Guard recovers from
// its own panic instead and tells it to whoever called Catch, who lifts what is
// in work and then ends.
//
// What is told about is a process-wide event, so the list of those who are told
// is process-wide too. While nobody is told, a panic ends the program as usual.
package crash

import (
	"fmt"
	"runtime/debug"
	"slices"
	"sync"
)

// Panic is a panic that a goroutine recovered from.
type Panic struct {
	Value any    // what panic was called with
	Stack []byte // of the goroutine, as it stood then
}

// Error returns the value and the stack, in several lines.
func (p *Panic) Error() string { return fmt.Sprintf("panic: %v\n\n%s", p.Value, p.Stack) }

var (
	mu       sync.Mutex
	catchers []*func(*Panic)
)

// Catch has f called with every panic in Run or Guard, from the goroutine that
// panicked, until release is called. f must not wait for that goroutine.
func Catch(f func(*Panic)) (release func()) {
	mu.Lock()
	defer mu.Unlock()
	catchers = append(catchers, &f)
	return func() {
		mu.Lock()
		defer mu.Unlock()
		catchers = slices.DeleteFunc(catchers, func(c *func(*Panic)) bool { return c == &f })
	}
}

// Run calls f and reports whether it panicked. The panic is told to those who
// called Catch; if there are none, it goes on.
func Run(f func()) (panicked bool) {
	defer func() {
		value := recover()
		if value == nil {
			return
		}
		panicked = true
		mu.Lock()
		told := slices.Clone(catchers)
		mu.Unlock()
		if len(told) == 0 {
			panic(value)
		}
		p := &Panic{Value: value, Stack: debug.Stack()}
		for _, c := range told {
			(*c)(p)
		}
	}()
	f()
	return false
}

// Guard returns a function that calls f by Run. Every goroutine of a program
// that moves tools is started with it:
//
//	go crash.Guard(func() { … })()
//	group.Go(crash.Guard(func() { … }))
func Guard(f func()) func() { return func() { Run(f) } }
