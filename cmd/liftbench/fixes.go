// liftbench fixes: what did the receiver say.

package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"liftbench/nmea"
)

func newFixesCommand() *cobra.Command {
	format := "json"
	cmd := &cobra.Command{
		Use:   "fixes LOG",
		Short: "Print every epoch of a log as JSON lines or CSV",
		Long: `fixes reads NMEA from a file or, with -, from standard input, and prints one line
an epoch: all sentences of one instant put together. What no sentence said is
null in JSON and empty in CSV. A summary of what was dropped follows on
standard error.

Times are UTC, RFC 3339; until the log has told the date, a time of day alone.
arrival is the host's clock where the log has it. Gzip is unpacked.`,
		Example: `  liftbench drive --out beets.nmea
  liftbench fixes beets.nmea
  liftbench fixes --format csv beets.nmea`,
		Args: exactlyOneLog,
		RunE: func(cmd *cobra.Command, args []string) error {
			if format != "json" && format != "csv" {
				return &usageError{fmt.Sprintf("--format %s: expected json or csv", format)}
			}
			in, err := openLog(args[0], aLog, cmd.InOrStdin(), cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer in.close()
			return printFixes(in, format == "csv", cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().StringVar(&format, "format", format, "`json|csv`: JSON lines or comma-separated values")
	_ = cmd.RegisterFlagCompletionFunc("format", cobra.FixedCompletions([]string{"json", "csv"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

// exactlyOneLog checks the arguments of a command that reads a log.
func exactlyOneLog(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return &usageError{fmt.Sprintf("%s: found %d arguments; expected LOG, or - for standard input", cmd.CommandPath(), len(args))}
	}
	return nil
}

// printFixes prints every epoch and then the summary.
func printFixes(in *logInput, csv bool, stdout, stderr io.Writer) error {
	w := bufio.NewWriterSize(stdout, 1<<16)
	r := nmea.NewReader(in)
	var line []byte
	positions := 0
	if csv {
		w.WriteString(fixColumns)
	}
	for r.Next() {
		f := r.Fix()
		if f.HasPosition() {
			positions++
		}
		if csv {
			line = appendFixCSV(line[:0], &f)
		} else {
			line = appendFixJSON(line[:0], &f)
		}
		if _, err := w.Write(line); err != nil {
			return fmt.Errorf("standard output: %w", err)
		}
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	in.finish()
	c := r.Counts()
	fmt.Fprintf(stderr, "%s: %s\n", in.name, countsText(&c))
	if err := r.Err(); err != nil {
		return &inputError{file: in.name, msg: err.Error(), err: err}
	}
	return emptyLog(in.name, in.done, &c, positions)
}

// The columns of both forms, in order.
const fixColumns = "time,arrival,lat,lon,height_m,geoid_m,quality,quality_text,satellites,hdop," +
	"sigma_east_m,sigma_north_m,sigma_height_m,speed_mps,speed_kmh,course_deg,heading_deg,yaw_rate_deg_s,age_s\n"

// appendFixJSON appends an epoch as one line of JSON.
func appendFixJSON(b []byte, f *nmea.Fix) []byte {
	b = append(b, `{"time":"`...)
	b = appendFixTime(b, f)
	b = append(b, `","arrival":`...)
	if f.ArrivalNs != 0 {
		b = append(b, '"')
		b = appendInstant(b, f.ArrivalNs)
		b = append(b, '"')
	} else {
		b = append(b, "null"...)
	}
	number := func(key string, x float64, decimals, bits int) {
		b = append(b, key...)
		if math.IsNaN(x) {
			b = append(b, "null"...)
			return
		}
		b = strconv.AppendFloat(b, x, 'f', decimals, bits)
	}
	number(`,"lat":`, f.LatDeg, degreeDecimals, 64)
	number(`,"lon":`, f.LonDeg, degreeDecimals, 64)
	number(`,"height_m":`, f.HeightM, -1, 64)
	number(`,"geoid_m":`, f.GeoidM, -1, 64)
	b = append(b, `,"quality":`...)
	b = strconv.AppendUint(b, uint64(f.Quality), 10)
	b = append(b, `,"quality_text":"`...)
	b = append(b, f.Quality.String()...)
	b = append(b, `","satellites":`...)
	b = strconv.AppendUint(b, uint64(f.Satellites), 10)
	number(`,"hdop":`, float64(f.HDOP), -1, 32)
	number(`,"sigma_east_m":`, float64(f.SigmaEastM), sigmaDecimals, 32)
	number(`,"sigma_north_m":`, float64(f.SigmaNorthM), sigmaDecimals, 32)
	number(`,"sigma_height_m":`, float64(f.SigmaHeightM), sigmaDecimals, 32)
	number(`,"speed_mps":`, f.SpeedMps, speedDecimals, 64)
	number(`,"speed_kmh":`, f.SpeedMps*3.6, speedDecimals, 64)
	number(`,"course_deg":`, f.CourseDeg, angleDecimals, 64)
	number(`,"heading_deg":`, f.HeadingDeg, angleDecimals, 64)
	number(`,"yaw_rate_deg_s":`, f.YawRateDegPerS, angleDecimals, 64)
	number(`,"age_s":`, float64(f.AgeS), -1, 32)
	return append(b, "}\n"...)
}

// appendFixCSV appends an epoch as one line of CSV.
func appendFixCSV(b []byte, f *nmea.Fix) []byte {
	b = appendFixTime(b, f)
	b = append(b, ',')
	if f.ArrivalNs != 0 {
		b = appendInstant(b, f.ArrivalNs)
	}
	number := func(x float64, decimals, bits int) {
		b = append(b, ',')
		if !math.IsNaN(x) {
			b = strconv.AppendFloat(b, x, 'f', decimals, bits)
		}
	}
	number(f.LatDeg, degreeDecimals, 64)
	number(f.LonDeg, degreeDecimals, 64)
	number(f.HeightM, -1, 64)
	number(f.GeoidM, -1, 64)
	b = append(b, ',')
	b = strconv.AppendUint(b, uint64(f.Quality), 10)
	b = append(b, ',')
	b = append(b, f.Quality.String()...)
	b = append(b, ',')
	b = strconv.AppendUint(b, uint64(f.Satellites), 10)
	number(float64(f.HDOP), -1, 32)
	number(float64(f.SigmaEastM), sigmaDecimals, 32)
	number(float64(f.SigmaNorthM), sigmaDecimals, 32)
	number(float64(f.SigmaHeightM), sigmaDecimals, 32)
	number(f.SpeedMps, speedDecimals, 64)
	number(f.SpeedMps*3.6, speedDecimals, 64)
	number(f.CourseDeg, angleDecimals, 64)
	number(f.HeadingDeg, angleDecimals, 64)
	number(f.YawRateDegPerS, angleDecimals, 64)
	number(float64(f.AgeS), -1, 32)
	return append(b, '\n')
}

// Decimals of what is computed; what stands in the log as it is printed (-1)
// keeps its own.
const (
	degreeDecimals = 10 // 1e-10 is 0.01 mm: minutes with 8 decimals lose nothing
	speedDecimals  = 4
	angleDecimals  = 4
	sigmaDecimals  = 4
)

// appendFixTime appends the time of an epoch: RFC 3339, or the time of day
// alone where the date is not known.
func appendFixTime(b []byte, f *nmea.Fix) []byte {
	if f.Dated {
		return appendInstant(b, f.TimeNs)
	}
	at := len(b)
	b = appendInstant(b, f.TimeNs)
	const date = len("1970-01-01T")
	b = append(b[:at], b[at+date:]...)
	return b[:len(b)-1] // without Z: no date, no zone to convert
}

// appendInstant appends a time in RFC 3339 with as many decimals as it has.
func appendInstant(b []byte, ns int64) []byte {
	return time.Unix(0, ns).UTC().AppendFormat(b, "2006-01-02T15:04:05.999999999Z")
}
