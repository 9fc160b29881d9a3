// Package report writes what a run or a diagnosis came to: the table on standard
// output, and summary.json, events.csv, ground.geojson, metrics and report.html.
package report
