//go:build !unix

package program

import (
	"os"
	"os/exec"
)

func shell(command string) *exec.Cmd { return exec.Command("cmd", "/C", command) }

// A process that is gone leaves nothing to be ended.
func askAll(p *os.Process)  { _ = p.Kill() }
func killAll(p *os.Process) { _ = p.Kill() }
