package nmea_test

import (
	"fmt"
	"time"

	"liftbench/nmea"
)

func ExampleAppendRMC() {
	f := nmea.EmptyFix()
	f.TimeNs, f.Dated = time.Date(2024, 5, 1, 12, 0, 0, 0, time.UTC).UnixNano(), true
	f.LatDeg, f.LonDeg, f.Quality = 52.25, 7.9, nmea.RTKFixed
	f.SpeedMps, f.CourseDeg = 2.2222, 33.2
	fmt.Printf("%s", nmea.AppendRMC(nil, &f))
	// Output:
	// $GNRMC,120000.00,A,5215.00000000,N,00754.00000000,E,4.3196,33.2000,010524,,,R*6C
}
