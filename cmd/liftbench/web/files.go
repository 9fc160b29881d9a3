// The page's files. They are written in the folder page and packed into one file of the
// program: unpacked they would be a hundredth of it.

package web

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"encoding/json"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"
)

// packed is a gzipped JSON object: the text of each file under page, by its path there.
// After a change of a file `go test ./cmd/liftbench/web -run Packed -update` packs them anew.
//
//go:embed page.json.gz
var packed []byte

// pageFiles returns the page's files: their texts by path.
var pageFiles = sync.OnceValue(func() map[string]string {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		panic(err) // of what the program holds itself
	}
	var files map[string]string
	if err := json.NewDecoder(z).Decode(&files); err != nil {
		panic(err)
	}
	return files
})

// file answers with the page's files.
func (s *server) file() http.HandlerFunc {
	return Zipped(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := strings.TrimPrefix(path.Clean("/"+r.URL.Path), "/")
		if r.URL.Path == "/" {
			name = "index.html"
		}
		text, ok := pageFiles()[name]
		if !ok || strings.HasSuffix(r.URL.Path, "/") && r.URL.Path != "/" {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Cache-Control", "no-cache")
		http.ServeContent(w, r, name, time.Time{}, strings.NewReader(text))
	})).ServeHTTP
}
