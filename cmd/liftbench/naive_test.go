// A reference controller for the bench, deliberately naive: it tells each
// section what its place in the newest position asks for, with no lead, no
// latency and no motion carried ahead.

package main

import (
	"fmt"
	"io"
	"math"
	"net"
	"os"

	"liftbench/cmd/liftbench/settings"
	"liftbench/nmea/epoch"
	"liftbench/replay/wire"
	"liftbench/sections"
	"liftbench/sections/motion"
)

// naive is the program: naive tcp|udp MACHINE FIELD HEAR [SAY], where HEAR is
// the address that the receiver's sentences come from, or come to by UDP, and
// SAY where its own lines go by UDP.
func naive(args []string) int {
	u, err := (&settings.Selection{Machine: args[1], Field: args[2]}).Load()
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	hear, say, err := naiveLink(args[0], args[3:])
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	m := u.Machine.Geometry()
	gate := sections.Gate{Field: u.Field, Machine: m, Rule: sections.Even, MinWorkRadiusM: 20}
	state := wire.NewState(len(m.Sections))
	r := epoch.NewReader(hear)
	r.Assembler.Live = true
	for r.Next() {
		f := r.Fix()
		if !f.HasPosition() || math.IsNaN(f.CourseDeg) {
			continue
		}
		e, n := u.Field.Plane.ToPlane(f.LatDeg, f.LonDeg)
		s, c := math.Sincos(f.CourseDeg * math.Pi / 180)
		p := motion.Pose{
			TimeNs: f.TimeNs, HeadingRad: f.CourseDeg * math.Pi / 180, SpeedMps: f.SpeedMps,
			EastM:  e - m.AntennaXM*s - m.AntennaYM*c,
			NorthM: n - m.AntennaXM*c + m.AntennaYM*s,
		}
		var begun sections.Follow
		gate.Follow(&begun, &p)
		frame := m.Frame(&p)
		for i := range m.Sections {
			state.Set(i, gate.Wants(i, gate.Share(i, &frame, begun.Zones)))
		}
		state.DueNs = f.TimeNs
		say.Write(wire.AppendLine(nil, &state))
		state.Seq++
	}
	return 0
}

// naiveLink connects to the bench.
func naiveLink(network string, addr []string) (hear io.Reader, say io.Writer, err error) {
	if network == "tcp" {
		c, err := net.Dial("tcp", addr[0])
		return c, c, err
	}
	in, err := net.ListenPacket("udp", addr[0])
	if err != nil {
		return nil, nil, err
	}
	out, err := net.Dial("udp", addr[1])
	return datagrams{in}, out, err
}

type datagrams struct{ net.PacketConn }

func (d datagrams) Read(b []byte) (int, error) {
	n, _, err := d.ReadFrom(b)
	return n, err
}
