// The bill of materials: which modules a program was built of. The form is CycloneDX 1.5
// (ECMA-424), the names are package URLs (purl, type golang).

package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"runtime/debug"
	"strings"
	"time"
)

type component struct {
	Type    string `json:"type"`
	Ref     string `json:"bom-ref"`
	Name    string `json:"name"`
	Version string `json:"version"`
	Purl    string `json:"purl,omitempty"`
	Hashes  []hash `json:"hashes,omitempty"`
}

type hash struct {
	Alg     string `json:"alg"`
	Content string `json:"content"`
}

type property struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

type dependency struct {
	Ref       string   `json:"ref"`
	DependsOn []string `json:"dependsOn,omitempty"`
}

type billOfMaterials struct {
	Format   string `json:"bomFormat"`
	Spec     string `json:"specVersion"`
	Serial   string `json:"serialNumber"`
	Version  int    `json:"version"`
	Metadata struct {
		Timestamp  string     `json:"timestamp"`
		Component  component  `json:"component"`
		Properties []property `json:"properties"`
	} `json:"metadata"`
	Components   []component  `json:"components"`
	Dependencies []dependency `json:"dependencies"`
}

// materials returns the bill of materials of a program, from what the program says of
// itself, as go version -m prints it.
func materials(info *debug.BuildInfo, version, commit string, program []byte, at time.Time) ([]byte, error) {
	sum := sha256.Sum256(program)
	b := billOfMaterials{Format: "CycloneDX", Spec: "1.5", Version: 1, Serial: serial(sum)}
	b.Metadata.Timestamp = at.Format(time.RFC3339)
	b.Metadata.Component = component{
		Type: "application", Ref: "liftbench", Name: "liftbench", Version: version,
		Hashes: []hash{{"SHA-256", hex.EncodeToString(sum[:])}},
	}
	b.Metadata.Properties = []property{{"liftbench:commit", commit}}
	for _, key := range []string{"GOOS", "GOARCH", "GOARM", "CGO_ENABLED"} {
		if v := setting(info, key); v != "" {
			b.Metadata.Properties = append(b.Metadata.Properties, property{"go:" + key, v})
		}
	}
	goVersion := strings.TrimPrefix(info.GoVersion, "go")
	b.Components = []component{{Type: "library", Ref: "std", Name: "std", Version: goVersion, Purl: "pkg:golang/std@" + goVersion}}
	all := dependency{Ref: "liftbench", DependsOn: []string{"std"}}
	for _, m := range info.Deps {
		purl := "pkg:golang/" + m.Path + "@" + m.Version
		c := component{Type: "library", Ref: purl, Name: m.Path, Version: m.Version, Purl: purl}
		// go.sum's hash of a module's tree is SHA-256 in base64, after "h1:".
		tree, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(m.Sum, "h1:"))
		if err != nil || len(tree) != sha256.Size {
			return nil, fmt.Errorf("%s %s: sum %q; expected h1: and SHA-256", m.Path, m.Version, m.Sum)
		}
		c.Hashes = []hash{{"SHA-256", hex.EncodeToString(tree)}}
		b.Components = append(b.Components, c)
		all.DependsOn = append(all.DependsOn, purl)
	}
	b.Dependencies = []dependency{all}
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(b); err != nil {
		return nil, err
	}
	return text.Bytes(), nil
}

// serial is a UUID of the program's own (RFC 9562, version 8): the same program has the
// same one.
func serial(sum [sha256.Size]byte) string {
	sum[6] = sum[6]&0x0f | 0x80
	sum[8] = sum[8]&0x3f | 0x80
	return fmt.Sprintf("urn:uuid:%x-%x-%x-%x-%x", sum[:4], sum[4:6], sum[6:8], sum[8:10], sum[10:16])
}
