package epoch_test

import (
	"fmt"
	"strings"
	"time"

	"liftbench/nmea/epoch"
)

func ExampleReader() {
	log := strings.NewReader("$GNGGA,120000.00,5210.00000000,N,00754.00000000,E,4,17,0.70,101.2000,M,45.1000,M,1.0,*68\r\n" +
		"$GNRMC,120000.00,A,5210.00000000,N,00754.00000000,E,4.3196,33.2000,010524,,,R*69\r\n" +
		"$GNGGA,120000.10,52#!\r\n" +
		"$GNRMC,120000.10,A,5210.00010000,N,00754.00010000,E,4.3196,33.3000,010524,,,R*69\r\n")

	rd := epoch.NewReader(log)
	for rd.Next() {
		f := rd.Fix()
		fmt.Printf("%s %.6f %.6f %.2f m/s, %v\n",
			time.Unix(0, f.TimeNs).UTC().Format("2006-01-02 15:04:05.0"), f.LatDeg, f.LonDeg, f.SpeedMps, f.Quality)
	}
	if err := rd.Err(); err != nil {
		fmt.Println(err)
	}
	c := rd.Counts()
	fmt.Printf("%d sentences, %d broken\n", c.OK, c.BadChecksum+c.Malformed)
	// Output:
	// 2024-05-01 12:00:00.0 52.166667 7.900000 2.22 m/s, RTK fixed
	// 2024-05-01 12:00:00.1 52.166668 7.900002 2.22 m/s, RTK fixed
	// 3 sentences, 1 broken
}
