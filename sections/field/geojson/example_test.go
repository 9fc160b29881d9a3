package geojson_test

import (
	"fmt"

	"liftbench/sections/field/geojson"
)

func ExampleDecode() {
	features, err := geojson.Decode([]byte(`{"type":"Feature","properties":{"name":"pond","zone":"keep-out"},
		"geometry":{"type":"Polygon","coordinates":[[[10,52],[10.001,52],[10,52.001],[10,52]]]}}`))
	if err != nil {
		fmt.Println(err)
		return
	}
	f := &features[0]
	fmt.Println(f, f.Properties["zone"], f.Polygons)
	_, err = geojson.Decode([]byte(`{"type":"Point","coordinates":[10,52]}`))
	fmt.Println(err)
	// Output:
	// feature 1 ("pond") keep-out [[[[10 52] [10.001 52] [10 52.001] [10 52]]]]
	// GeoJSON type "Point"; expected FeatureCollection, Feature, Polygon or MultiPolygon
}
