package port_test

import (
	"bufio"
	"context"
	"fmt"

	"liftbench/replay/port"
)

// One port listens for a receiver, another sends a sentence to it. Both are on
// this computer.
func Example() {
	connected := make(chan bool, 1)
	open := func(name string, mode port.Mode, events func(port.Event)) *port.Port {
		spec, err := port.Parse(name)
		if err != nil {
			panic(err)
		}
		p, err := port.Open(context.Background(), spec, mode, port.Options{Events: events})
		if err != nil {
			panic(err)
		}
		return p
	}
	in := open("tcp-listen::0", port.In, nil) // the system chooses the port number
	out := open("tcp:"+in.Addr(), port.Out, func(e port.Event) {
		if e.Kind == port.Connected {
			connected <- true
		}
	})
	<-connected // a line sent earlier would be dropped

	out.Send([]byte("$GNHDT,90.0000,T*22\r\n"))
	sc := bufio.NewScanner(in)
	sc.Scan()
	fmt.Println(sc.Text())
	out.Close()
	in.Close()
	fmt.Println("sent", out.Counts().Sent, "dropped", out.Counts().Dropped)
	// Output:
	// $GNHDT,90.0000,T*22
	// sent 1 dropped 0
}

// Settings that a port's name leaves out have their defaults.
func ExampleParse() {
	spec, err := port.Parse("serial:/dev/ttyUSB0?baud=115200")
	fmt.Println(spec, err)
	fmt.Println(spec.Harmless()) // setpoints sent there may move a machine
	_, err = port.Parse("tcp:10.0.0.7")
	fmt.Println(err)
	// Output:
	// serial:/dev/ttyUSB0?baud=115200&data=8&parity=none&stop=1 <nil>
	// false
	// port tcp:10.0.0.7: "10.0.0.7" has no port; expected tcp:HOST:PORT
}
