// A sweep that is killed at random and goes on.

package main

import (
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"liftbench/cmd/liftbench/study"
	"liftbench/sim/campaign"
)

// Killed at three instants, or twenty with LIFTBENCH_CAMPAIGN=ci, a study ends in the same
// files.
func TestSweepKilled(t *testing.T) {
	dir := t.TempDir()
	file := writeStudy(t, dir, "  - {key: drive.speed_kmh, from: 8, to: 12, steps: 10}\n", "seeds: 6\n")
	if status, _, stderr := command("", "sweep", "--out", filepath.Join(dir, "whole"), file); status != 0 {
		t.Fatal(stderr)
	}
	rng := rand.New(rand.NewPCG(9, 9))
	kills := campaign.Times(3, 20, 20)
	killed, drives := 0, 0
	for i := 0; killed < kills; i++ {
		if i == 400 {
			t.Fatalf("killed %d times only", killed)
		}
		cmd := exec.Command(os.Args[0], "sweep", "--out", filepath.Join(dir, "killed"), file)
		cmd.Env = append(os.Environ(), asVariable+"=liftbench")
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		// Sometimes within the first drives, sometimes later, on any machine:
		// the instant is told by the journal's length.
		more := int64(rng.IntN(2500))
		journal := filepath.Join(dir, "killed", study.JournalFile)
		before, late := sizeOf(journal), time.Now().Add(20*time.Second)
		for sizeOf(journal) < before+more && time.Now().Before(late) {
			time.Sleep(time.Millisecond)
		}
		_ = cmd.Process.Kill()
		var exit *exec.ExitError
		err := cmd.Wait()
		if errors.As(err, &exit) && exit.Sys().(syscall.WaitStatus).Signaled() {
			killed++
			if _, err := os.Stat(filepath.Join(dir, "killed", "results.csv")); err == nil {
				t.Error("results were written before the study was complete")
			}
			continue
		}
		// It was done before it could be killed: begin anew.
		drives++
		if err := os.RemoveAll(filepath.Join(dir, "killed")); err != nil {
			t.Fatal(err)
		}
	}
	if status, _, stderr := command("", "sweep", "--out", filepath.Join(dir, "killed"), file); status != 0 {
		t.Fatal(stderr)
	}
	sameFiles(t, "killed", sweepFilesOf(t, filepath.Join(dir, "killed")), sweepFilesOf(t, filepath.Join(dir, "whole")))
	t.Logf("killed %d times, ended %d times before that", killed, drives)
}

func sizeOf(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}
