package receiver_test

import (
	"fmt"
	"strings"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/geodesy"
	"liftbench/sim/drive"
	"liftbench/sim/receiver"
)

// A tractor drives east. The receiver reports its position five times a second,
// each 0.1 s late, and without noise.
func ExampleWrite() {
	plane := geodesy.NewPlane(52, 10)
	var log strings.Builder
	track := drive.Straight(1_718_200_000e9, 0, 0, 1.5707963267948966, 2, 1)
	err := receiver.Write(&log, track, &plane, &sections.Machine{AntennaZM: 3}, receiver.Params{
		RateHz: 5, LatencyNs: 100e6, Stamp: receiver.RFC3339Stamp,
		Sentences: []nmea.Type{nmea.GGA, nmea.VTG},
	})
	if err != nil {
		fmt.Println(err)
	}
	fmt.Print(strings.ReplaceAll(log.String(), "\r\n", "\n"))
	// Output:
	// 2024-06-12T13:46:40.100000000Z $GNGGA,134640.00,5200.00000000,N,01000.00000000,E,4,16,0.70,3.0000,M,0.0000,M,1.0,*59
	// 2024-06-12T13:46:40.100000000Z $GNVTG,90.0000,T,,M,3.8877,N,7.2000,K,R*0F
	// 2024-06-12T13:46:40.300000000Z $GNGGA,134640.20,5200.00000000,N,01000.00034946,E,4,16,0.70,3.0000,M,0.0000,M,1.0,*57
	// 2024-06-12T13:46:40.300000000Z $GNVTG,90.0000,T,,M,3.8877,N,7.2000,K,R*0F
	// 2024-06-12T13:46:40.500000000Z $GNGGA,134640.40,5200.00000000,N,01000.00069891,E,4,16,0.70,3.0000,M,0.0000,M,1.0,*52
	// 2024-06-12T13:46:40.500000000Z $GNVTG,90.0000,T,,M,3.8877,N,7.2000,K,R*0F
}
