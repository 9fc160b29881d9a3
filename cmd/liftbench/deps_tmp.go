package main

import (
	_ "github.com/goccy/go-yaml"
	_ "github.com/paulmach/orb/geojson"
	_ "github.com/paulmach/orb/planar"
	_ "github.com/peterstace/simplefeatures/geom"
	_ "github.com/prometheus/client_golang/prometheus"
	_ "github.com/prometheus/client_golang/prometheus/promhttp"
	_ "github.com/prometheus/client_golang/prometheus/testutil"
	_ "github.com/prometheus/common/expfmt"
	_ "github.com/spf13/cobra"
	_ "pgregory.net/rapid"
)

func main() {}
