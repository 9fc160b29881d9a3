// Package markup walks through the XML of a field's file, within limits, and says at which line
// something stands.
package markup

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Limits of a file, each far above those of any field.
const (
	MaxBytes   = 16 << 20
	maxDepth   = 64
	maxTag     = 64 << 10 // bytes between < and >
	MaxPoints  = 500_000
	maxElement = 1_500_000
)

// Visitor is told of the elements of a file in their order. An error that it returns ends
// the walk.
type Visitor interface {
	// Start is called where an element begins. path are the local names of the elements
	// around it, the outermost first, and its own last.
	Start(path []string, attributes []xml.Attr, line int) error
	// End is called where it ends. text is what stands directly in it.
	End(path []string, text string, line int) error
}

// Walk walks through a whole file. Its errors say the line.
func Walk(data []byte, v Visitor) error {
	if err := admit(data); err != nil {
		return err
	}
	d := xml.NewDecoder(bytes.NewReader(data))
	d.CharsetReader = charset
	var path []string
	texts := make([]strings.Builder, maxDepth+1)
	for elements := 0; ; {
		line, _ := d.InputPos()
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			if elements == 0 {
				return errors.New("no element; expected XML")
			}
			return nil
		}
		if err != nil {
			return placed(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			if elements++; elements > maxElement {
				return fmt.Errorf("line %d: more than %d elements; expected one field", line, maxElement)
			}
			if len(path) == maxDepth {
				return fmt.Errorf("line %d: %d elements within each other; expected one field", line, maxDepth+1)
			}
			path = append(path, e.Name.Local)
			texts[len(path)].Reset()
			err = v.Start(path, e.Attr, line)
		case xml.EndElement:
			line, _ = d.InputPos()
			err = v.End(path, strings.TrimSpace(texts[len(path)].String()), line)
			path = path[:len(path)-1]
		case xml.CharData:
			texts[len(path)].Write(e)
		}
		if err != nil {
			return fmt.Errorf("line %d: %w", line, err)
		}
	}
}

// Root returns the local name of the outermost element of XML, "" where there is none.
func Root(data []byte) string {
	d := xml.NewDecoder(bytes.NewReader(data[:min(len(data), maxTag)]))
	d.CharsetReader = charset
	for {
		token, err := d.RawToken()
		if err != nil {
			return ""
		}
		if e, ok := token.(xml.StartElement); ok {
			return e.Name.Local
		}
	}
}

// admit checks what can be told without a parser.
func admit(data []byte) error {
	if len(data) > MaxBytes {
		return fmt.Errorf("holds more than %d MiB; expected one field", MaxBytes>>20)
	}
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) || len(data) > 1 && (data[0] == 0) != (data[1] == 0) {
		return errors.New("is in UTF-16; expected UTF-8: save it anew in that encoding")
	}
	// A tag is held in memory whole.
	for rest := data; ; {
		at := bytes.IndexByte(rest, '<')
		if at < 0 {
			return nil
		}
		if rest = rest[at+1:]; bytes.HasPrefix(rest, []byte("!")) {
			continue // comments and CDATA may be long
		}
		if end := bytes.IndexByte(rest, '>'); end > maxTag {
			line := 1 + bytes.Count(data[:len(data)-len(rest)], []byte("\n"))
			return fmt.Errorf("line %d: a tag of more than %d bytes; expected one field", line, maxTag)
		} else if end >= 0 {
			rest = rest[end:]
		}
	}
}

// charset reads the encodings that are found besides UTF-8, all as Latin-1.
func charset(label string, in io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "utf-8", "utf8", "us-ascii", "ascii":
		return in, nil
	case "iso-8859-1", "iso-8859-15", "latin1", "windows-1252":
		return &latin1{in: in}, nil
	}
	return nil, fmt.Errorf("encoding %q; expected UTF-8: save it anew in that encoding", label)
}

// latin1 turns each byte into the UTF-8 of the character with its number.
type latin1 struct {
	in   io.Reader
	rest []byte
	buf  [4096]byte
}

func (l *latin1) Read(b []byte) (int, error) {
	if len(l.rest) == 0 {
		n, err := l.in.Read(l.buf[:])
		for _, c := range l.buf[:n] {
			l.rest = append(l.rest, string(rune(c))...)
		}
		if n == 0 {
			return 0, err
		}
	}
	n := copy(b, l.rest)
	l.rest = l.rest[n:]
	return n, nil
}

// placed says where the decoder found an error.
func placed(err error) error {
	var syntax *xml.SyntaxError
	if errors.As(err, &syntax) {
		return fmt.Errorf("line %d: not XML: %s", syntax.Line, syntax.Msg)
	}
	return fmt.Errorf("not XML: %w", err)
}
