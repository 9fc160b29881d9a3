// Package form reads the shapes of a field from whatever form they have, which it tells by the
// content and never by a name: GeoJSON, KML, KMZ, GPX, a shapefile, or a zip of one of them.
package form

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"path"
	"strings"

	"liftbench/sections/field/geojson"
	"liftbench/sections/field/gpx"
	"liftbench/sections/field/kml"
	"liftbench/sections/field/markup"
	"liftbench/sections/field/shapefile"
)

// MaxBytes bounds a file.
const MaxBytes = geojson.MaxBytes

// Taken are the forms, as a sentence lists them.
const Taken = "GeoJSON, KML, KMZ, GPX or a shapefile"

// Decode decodes a whole file and says which form it has. There is at least one
// feature. The error says where, what was found and what was expected.
func Decode(data []byte) (features []geojson.Feature, form string, err error) {
	if len(data) > MaxBytes {
		return nil, "", fmt.Errorf("holds more than %d MiB; expected one field", MaxBytes>>20)
	}
	switch kind := told(data); kind {
	case "zip":
		return unzipped(data)
	case "KML":
		features, err = kml.Decode(data, nil)
		return features, kind, err
	case "GPX":
		features, err = gpx.Decode(data)
		return features, kind, err
	case "shapefile":
		features, err = shapefile.Decode(shapefile.Set{Shp: data})
		return features, kind, err
	case "GeoJSON":
		features, err = geojson.Decode(data)
		return features, kind, err
	default:
		return nil, "", fmt.Errorf("%s; expected %s", kind, Taken)
	}
}

// IsShapefile reports whether data is a .shp, which has a table and its coordinate
// system in files beside it. Zip puts them into one.
func IsShapefile(data []byte) bool { return shapefile.Is(data) }

// Zip packs a shapefile, for Decode. dbf and prj may be nil.
func Zip(shp, dbf, prj []byte) ([]byte, error) {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, part := range []struct {
		name string
		data []byte
	}{{"field.shp", shp}, {"field.dbf", dbf}, {"field.prj", prj}} {
		if part.data == nil {
			continue
		}
		w, err := z.Create(part.name)
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(part.data); err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return out.Bytes(), err
}

// told says which form data has, or what else it is.
func told(data []byte) string {
	text := bytes.TrimSpace(bytes.TrimPrefix(data[:min(len(data), 1<<10)], []byte("\xef\xbb\xbf")))
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")), bytes.HasPrefix(data, []byte("PK\x05\x06")):
		return "zip"
	case shapefile.Is(data):
		return "shapefile"
	case shapefile.IsIndex(data):
		return "the index (.shx) of a shapefile, beside which its .shp lies"
	case bytes.HasPrefix(data, []byte("\x1f\x8b")):
		return "compressed by gzip"
	case len(data) > 32 && data[0] == 3 && data[1] < 200 && data[2] <= 12 && data[3] <= 31: // version; year, month, day
		return "the table (.dbf) of a shapefile, beside which its .shp lies"
	case bytes.HasPrefix(text, []byte("GEOGCS[")), bytes.HasPrefix(text, []byte("PROJCS[")):
		return "the .prj file of a shapefile, which says what its coordinates mean"
	case bytes.HasPrefix(text, []byte("<")):
		switch root := markup.Root(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))); strings.ToLower(root) {
		case "kml":
			return "KML"
		case "gpx":
			return "GPX"
		case "":
			return "XML without an element"
		case "iso11783_taskdata":
			return "task data of ISO 11783-10, which hold fields among much else"
		default:
			return fmt.Sprintf("XML of <%.40s>", root)
		}
	}
	return "GeoJSON" // or nothing, of which its decoder speaks best
}

// Limits of a zip.
const (
	maxFiles  = 1000
	maxLinked = 16
	headBytes = 4 << 10 // by which the form of a file in it is told
)

// unzipped decodes the only file of a zip that is of a known form.
func unzipped(data []byte) ([]geojson.Feature, string, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, "", fmt.Errorf("a zip that is damaged (%w); expected it whole", err)
	}
	if len(z.File) > maxFiles {
		return nil, "", fmt.Errorf("a zip of %d files; expected one field", len(z.File))
	}
	var found []*zip.File
	var kinds, names []string
	var failed error
	for _, f := range z.File {
		if base := path.Base(f.Name); f.FileInfo().IsDir() || strings.HasPrefix(base, "._") || strings.HasPrefix(f.Name, "__MACOSX/") {
			continue
		}
		head, err := content(f, headBytes, true)
		if err != nil {
			failed = err
			continue
		}
		kind := told(head)
		switch {
		case kind == "GeoJSON" && !bytes.HasPrefix(bytes.TrimSpace(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))), []byte("{")):
			continue
		case kind == "GeoJSON", kind == "KML", kind == "GPX", kind == "shapefile":
			found, kinds, names = append(found, f), append(kinds, kind), append(names, f.Name)
		}
	}
	for i, f := range found {
		// A KMZ holds its main file at its root, whose links go to the others (OGC 12-007r2, annex C).
		if kinds[i] == "KML" && f.Name == "doc.kml" {
			found, kinds = found[i:i+1], kinds[i:i+1]
			break
		}
	}
	switch {
	case len(found) == 0 && failed != nil:
		return nil, "", failed
	case len(found) == 0:
		return nil, "", fmt.Errorf("a zip without a field; expected one of %s in it", Taken)
	case len(found) > 1:
		more := ""
		if len(names) > 5 {
			names, more = names[:5], ", …"
		}
		return nil, "", fmt.Errorf("a zip of %d files that may be the field: %.200q%s; expected one: take the others out, or unpack it and give the one", len(found), strings.Join(names, ", "), more)
	}
	f, kind := found[0], kinds[0]
	whole, err := content(f, MaxBytes, false)
	if err != nil {
		return nil, "", err
	}
	switch kind {
	case "KML":
		features, err := kml.Decode(whole, linked(z, f.Name))
		if err != nil {
			return nil, "", fmt.Errorf("%q in the zip: %w", f.Name, err)
		}
		return features, "KMZ", nil
	case "GPX", "GeoJSON":
		features, _, err := Decode(whole)
		if err != nil {
			return nil, "", fmt.Errorf("%q in the zip: %w", f.Name, err)
		}
		return features, kind + " in a zip", nil
	}
	set := shapefile.Set{Shp: whole}
	for _, side := range z.File {
		ext := path.Ext(side.Name)
		if !strings.EqualFold(strings.TrimSuffix(side.Name, ext), strings.TrimSuffix(f.Name, path.Ext(f.Name))) {
			continue
		}
		var to *[]byte
		switch strings.ToLower(ext) {
		case ".dbf":
			to = &set.Dbf
		case ".prj":
			to = &set.Prj
		default:
			continue
		}
		if *to, err = content(side, MaxBytes, false); err != nil {
			return nil, "", err
		}
	}
	features, err := shapefile.Decode(set)
	return features, "shapefile", err
}

// linked returns the files that a KML links to: those beside it in the zip, each once.
func linked(z *zip.Reader, main string) func(href string) ([]byte, error) {
	left := map[string]*zip.File{}
	for _, f := range z.File {
		if f.Name != main {
			left[path.Clean(f.Name)] = f
		}
	}
	opened := 0
	return func(href string) ([]byte, error) {
		f := left[path.Join(path.Dir(main), href)]
		if f == nil {
			return nil, fmt.Errorf("NetworkLink to %.100q, which is not in the zip, or was linked before; expected the KMZ with all its files, or that file", href)
		}
		if opened++; opened > maxLinked {
			return nil, fmt.Errorf("NetworkLinks to more than %d files; expected one field", maxLinked)
		}
		delete(left, path.Clean(f.Name))
		return content(f, MaxBytes, false)
	}
}

// content unpacks a file of a zip, up to most bytes; head: only these, of a file that may
// be longer.
func content(f *zip.File, most int64, head bool) ([]byte, error) {
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%q in the zip cannot be unpacked: %w", f.Name, err)
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, most+1))
	if int64(len(data)) > most {
		if head {
			return data[:most], nil
		}
		return nil, fmt.Errorf("%q in the zip holds more than %d MiB; expected one field", f.Name, most>>20)
	}
	if err != nil {
		return nil, fmt.Errorf("%q in the zip cannot be unpacked: %w", f.Name, err)
	}
	return data, nil
}
