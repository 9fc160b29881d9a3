// The files of --out, in the order they are written.

package main

// writeOut writes the files of --out and --metrics-file, where they are wanted.
func (o *outcome) writeOut(outDir, metricsFile string) error {
	if outDir != "" {
		if err := writeDir(outDir, o.files()); err != nil {
			return err
		}
	}
	if metricsFile != "" {
		return writeWhole(metricsFile, o.writeMetrics)
	}
	return nil
}

// files returns the files of --out, in the order they are written.
func (o *outcome) files() []outFile {
	return []outFile{
		{"summary.json", o.writeSummary},
		{"events.csv", o.writeEvents},
		{"ground.geojson", o.writeGround},
		{"metrics.prom", o.writeMetrics},
		{"report.html", o.writeReport},
	}
}
