// Command own is the bench's controller as a controller under test: own [SCENARIO]
// speaks lockstep on standard input and output.
package main

import (
	"bufio"
	"bytes"
	"log"
	"os"
	"strings"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/wire"
	"liftbench/sections"
)

func main() {
	setup, err := (&settings.Selection{Arg: strings.Join(os.Args[1:], " ")}).Load()
	if err != nil {
		log.Fatal(err)
	}
	job := run.Job(setup)
	ctl, err := sections.New(job.Machine, job.Field, job.Settings)
	if err != nil {
		log.Fatal(err)
	}
	var fixes epoch.Assembler // a turn ends an epoch, so that none is waited for
	var dates epoch.Dating
	var sentence nmea.Sentence
	var now int64
	var setpoints, reply = []sections.Setpoint(nil), []byte(nil)
	for in := bufio.NewScanner(os.Stdin); in.Scan(); {
		reply = reply[:0]
		switch word, rest, _ := bytes.Cut(in.Bytes(), []byte(" ")); string(word) {
		case "start":
			reply = wire.AppendReady(reply)
		case "now":
			now, _ = wire.ParseInstant(rest)
		case "turn":
			fixes.EndEpoch()
			for fix := (nmea.Fix{}); fixes.Next(&fix); {
				dates.Add(fix, ctl.Fix)
			}
			setpoints = ctl.Tick(now, setpoints[:0])
			for i := range setpoints {
				reply = wire.AppendJSON(reply, &setpoints[i])
			}
			reply = wire.AppendDone(reply, max(now, ctl.QuietUntilNs()))
		default: // a sentence, or a line of the job that the setup has told
			if sentence.ArrivalNs = now; nmea.Parse(in.Bytes(), &sentence) == nil {
				fixes.Add(&sentence)
			}
		}
		os.Stdout.Write(reply)
	}
}
