module liftbench/nmea/testdata/reference

go 1.26.0

require (
	github.com/adrianmo/go-nmea v1.7.0
	liftbench v0.0.0
)

// Debian's package golang-github-adrianmo-go-nmea-dev.
replace github.com/adrianmo/go-nmea => /usr/share/gocode/src/github.com/adrianmo/go-nmea

replace liftbench => ../../..
