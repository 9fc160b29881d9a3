//go:build unix

// What lockstep costs: the bench's part, and that of the controller.

package main

import (
	"bytes"
	"io"
	"syscall"
	"testing"

	"liftbench/sim/campaign"
)

// processorS is the processor time, in seconds, of this process or of the programs that it
// started and that have ended.
func processorS(b *testing.B, who int) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(who, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) * 1e-9
}

// A drive by run, and in lockstep by our controller as a program and by the naive one in C and in
// Python: processor time of the bench and of the controller, each beside that of run in this
// benchmark. With LIFTBENCH_CAMPAIGN=full it is the working day of ten hours and 24
// sections, otherwise the demo.
func BenchmarkLockstep(b *testing.B) {
	scenario := []string{"../../testdata/ten-hours/scenario.yaml"}
	if campaign.Times(0, 0, 1) == 0 {
		scenario = nil
	}
	list, err := built()
	if err != nil {
		b.Fatal(err)
	}
	var runS float64
	for _, name := range []string{"run", "own", "c", "python"} {
		b.Run(name, func(b *testing.B) {
			args := []string{"run"}
			if name != "run" {
				if list[name] == "" {
					b.Skip("missing: a compiler for C, or python3")
				}
				with := list[name]
				if name == "own" && scenario != nil {
					with += " " + scenario[0]
				}
				args = []string{"bench", "--lockstep", "--exec", with}
			}
			args = append(args, scenario...)
			benchS, controllerS := -processorS(b, syscall.RUSAGE_SELF), -processorS(b, syscall.RUSAGE_CHILDREN)
			for b.Loop() {
				var stderr bytes.Buffer
				if status := execute(args, nil, io.Discard, &stderr); status > 1 {
					b.Fatalf("%v ended with status %d: %s", args, status, stderr.String())
				}
			}
			benchS, controllerS = (benchS+processorS(b, syscall.RUSAGE_SELF))/float64(b.N), (controllerS+processorS(b, syscall.RUSAGE_CHILDREN))/float64(b.N)
			if name == "run" {
				runS = benchS
			}
			b.ReportMetric(benchS, "bench-s/op")
			b.ReportMetric(controllerS, "controller-s/op")
			if runS > 0 {
				b.ReportMetric((benchS+controllerS)/runS, "x-run")
			}
		})
	}
}
