//go:build unix

package program

import (
	"os"
	"os/exec"
	"syscall"
)

// shell returns the command in a process group of its own, so that its children
// end with it.
func shell(command string) *exec.Cmd {
	c := exec.Command("sh", "-c", command)
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	return c
}

// A group that is gone leaves nothing to be ended.
func askAll(p *os.Process)  { _ = syscall.Kill(-p.Pid, syscall.SIGTERM) }
func killAll(p *os.Process) { _ = syscall.Kill(-p.Pid, syscall.SIGKILL) }
