// Standard error of a command that runs for long: lines that stay, and on a
// terminal a status line below them.

package main

import (
	"fmt"
	"io"
	"sync"
	"time"
)

// console writes what is said from a goroutine of its own, so that nobody
// waits for a terminal or a pipe that is stuck; what it cannot hold is lost.
type console struct {
	status bool // a terminal: there is a status line
	lines  chan consoleLine
	done   chan struct{}
	close  sync.Once
}

type consoleLine struct {
	text string
	stay bool // otherwise it is the status line
}

// consoleLines is what may wait to be written.
const consoleLines = 256

func newConsole(stderr io.Writer) *console {
	c := &console{status: isTerminal(stderr), lines: make(chan consoleLine, consoleLines), done: make(chan struct{})}
	go c.write(stderr)
	return c
}

func (c *console) write(out io.Writer) {
	defer close(c.done)
	status := ""
	for l := range c.lines {
		text := ""
		if c.status {
			text = "\r\x1b[K"
		}
		if l.stay {
			text += l.text + "\n" + status
		} else {
			status = l.text
			text += status
		}
		io.WriteString(out, text)
	}
	if status != "" {
		io.WriteString(out, "\r\x1b[K")
	}
}

// say prints a line that stays.
func (c *console) say(format string, args ...any) {
	select {
	case c.lines <- consoleLine{fmt.Sprintf(format, args...), true}:
	default:
	}
}

// draw replaces the status line; where there is no terminal it does nothing.
func (c *console) draw(line string) {
	if !c.status {
		return
	}
	select {
	case c.lines <- consoleLine{line, false}:
	default:
	}
}

// finish takes the status line away when all is written, or gives up after a
// second. Nobody may say anything after it.
func (c *console) finish() {
	c.close.Do(func() { close(c.lines) })
	select {
	case <-c.done:
	case <-time.After(time.Second):
	}
}
