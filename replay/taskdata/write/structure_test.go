// What the schema of version 4.3 says of numbers and of places, beside the forms of attributes.

package write_test

import (
	"encoding/xml"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"liftbench/replay/taskdata/write"
)

// node is an element of any name.
type node struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Nodes   []node     `xml:",any"`
}

func (n *node) get(attribute string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == attribute {
			return a.Value
		}
	}
	return ""
}

// each calls f with a node and everything below it.
func (n *node) each(f func(*node)) {
	f(n)
	for i := range n.Nodes {
		n.Nodes[i].each(f)
	}
}

// count counts the children of a name, with an attribute of a value where one is given.
func (n *node) count(name, attribute, value string) (k int) {
	for i := range n.Nodes {
		if c := &n.Nodes[i]; c.XMLName.Local == name && (attribute == "" || c.get(attribute) == value) {
			k++
		}
	}
	return k
}

// misplaced returns what of a set stands in the wrong number or place: ISO 11783-10 version
// 4.3, from memory, and what isoxml's tables say of it.
func misplaced(set, header []byte) (wrong []string) {
	say := func(format string, a ...any) { wrong = append(wrong, fmt.Sprintf(format, a...)) }
	var root, head node
	for text, to := range map[*node][]byte{&root: set, &head: header} {
		if err := xml.Unmarshal(to, text); err != nil {
			say("%v", err)
			return wrong
		}
	}
	elements, owners, names := map[string]*node{}, map[string]string{}, map[string]string{}
	root.each(func(n *node) {
		switch n.XMLName.Local {
		case "DVC":
			names[n.get("A")] = n.get("D")
			if k := n.count("DET", "C", "1"); k != 1 {
				say("%s has %d device elements, expected one", n.get("A"), k)
			}
			numbers := map[string]bool{}
			for i := range n.Nodes {
				e := &n.Nodes[i]
				if e.XMLName.Local != "DET" {
					continue
				}
				elements[e.get("A")], owners[e.get("A")] = e, n.get("A")
				if numbers[e.get("E")] {
					say("%s: element number %s twice", n.get("A"), e.get("E"))
				}
				numbers[e.get("E")] = true
			}
		case "PLN":
			if k := n.count("LSG", "A", "1"); k != 1 {
				say("a polygon with %d exteriors", k)
			}
		case "LSG":
			least := map[string]int{"1": 4, "2": 4, "5": 1}[n.get("A")]
			k := n.count("PNT", "", "")
			if k < max(least, 1) {
				say("a line of type %s with %d points", n.get("A"), k)
			}
			if least == 4 && k > 0 {
				if a, b := &n.Nodes[0], &n.Nodes[k-1]; a.get("C") != b.get("C") || a.get("D") != b.get("D") {
					say("a ring that is open")
				}
			}
		case "GGP":
			if n.count("GPN", "", "") < 1 {
				say("a guidance group without a pattern")
			}
		case "GPN":
			if k := n.count("LSG", "A", "5"); k != 1 {
				say("a guidance pattern with %d lines", k)
			}
			if n.get("C") == "1" && (len(n.Nodes) == 0 || n.Nodes[0].count("PNT", "A", "6") != 1 || n.Nodes[0].count("PNT", "A", "7") != 1) {
				say("an AB line without its A or B")
			}
			if n.get("C") == "2" && n.get("G") == "" {
				say("a pattern of type A+ without its heading")
			}
		}
	})
	root.each(func(n *node) {
		switch n.XMLName.Local {
		case "CNN":
			for _, end := range [2][2]string{{"A", "B"}, {"C", "D"}} {
				if e := elements[n.get(end[1])]; e == nil || owners[n.get(end[1])] != n.get(end[0]) || e.get("C") != "6" {
					say("%s is no connector of %s", n.get(end[1]), n.get(end[0]))
				}
			}
		case "DAN":
			if id := n.get("C"); id != "" && names[id] != n.get("A") {
				say("%s has the NAME %s, not %s", id, names[id], n.get("A"))
			}
		}
	})
	if head.XMLName.Local != "TIM" || head.count("PTN", "", "") != 1 {
		say("header %s with %d positions", head.XMLName.Local, head.count("PTN", "", ""))
	}
	columns := map[string]bool{}
	for i := range head.Nodes {
		c := &head.Nodes[i]
		if c.XMLName.Local == "PTN" {
			for _, a := range c.Attrs {
				if !strings.Contains("ABCDEFGHI", a.Name.Local) || a.Value != "" {
					say("header: PTN %s=%q", a.Name.Local, a.Value)
				}
			}
			continue
		}
		key := c.get("A") + " " + c.get("C")
		switch {
		case c.XMLName.Local != "DLV":
			say("header: %s", c.XMLName.Local)
		case i == 0:
			say("header: a value ahead of the position")
		case !pattern("[0-9A-F]{4}").MatchString(c.get("A")) || c.get("B") != "" || elements[c.get("C")] == nil:
			say("header: DLV %s of %s", c.get("A"), c.get("C"))
		case columns[key]:
			say("header: %s twice", key)
		}
		columns[key] = true
	}
	if len(columns) > 255 {
		say("header: %d columns, a row's index has 8 bits", len(columns))
	}
	return wrong
}

func TestStructure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		files, err := write.Files(day(t))
		if err != nil {
			t.Fatal(err)
		}
		var header []byte
		for _, f := range files {
			if strings.EqualFold(f.Name, "TLG00001.XML") {
				header = f.Data
			}
		}
		if wrong := misplaced(files[0].Data, header); len(wrong) > 0 {
			t.Fatal(strings.Join(wrong, "\n"))
		}
	})
	const head = `<TIM A=""><PTN A="" B=""/></TIM>`
	for _, c := range [][3]string{
		{`<R><DVC A="DVC-1"><DET A="DET-1" C="2" E="0"/></DVC></R>`, head, "0 device elements"},
		{`<R><DVC A="DVC-1"><DET A="DET-1" C="1" E="0"/><DET A="DET-2" C="4" E="0"/></DVC></R>`, head, "element number 0 twice"},
		{`<R><PLN A="1"/></R>`, head, "0 exteriors"},
		{`<R><LSG A="1"><PNT C="1" D="1"/><PNT C="1" D="2"/><PNT C="2" D="2"/><PNT C="2" D="1"/></LSG></R>`, head, "open"},
		{`<R><LSG A="2"><PNT C="1" D="1"/></LSG></R>`, head, "with 1 points"},
		{`<R><GGP/></R>`, head, "without a pattern"},
		{`<R><GPN C="1"><LSG A="5"><PNT A="6" C="1" D="1"/></LSG></GPN></R>`, head, "without its A or B"},
		{`<R><GPN C="2"><LSG A="5"><PNT A="6" C="1" D="1"/></LSG></GPN></R>`, head, "without its heading"},
		{`<R><DVC A="DVC-1" D="00"><DET A="DET-1" C="1" E="0"/></DVC><CNN A="DVC-1" B="DET-1" C="DVC-1" D="DET-9"/><DAN A="11" C="DVC-1"/></R>`, head, "DET-1 is no connector of DVC-1\nDET-9 is no connector of DVC-1\nDVC-1 has the NAME 00, not 11"},
		{`<R/>`, `<TIM A=""><DLV A="008D" B="" C="DET-1"/></TIM>`, "with 0 positions\nheader: a value ahead"},
		{`<R/>`, `<TIM A=""><PTN A="" Q=""/><DLV A="8D" B="" C="DET-1"/></TIM>`, "PTN Q=\"\"\nheader: DLV 8D of DET-1"},
	} {
		if got := strings.Join(misplaced([]byte(c[0]), []byte(c[1])), "\n"); !strings.Contains(got, c[2]) {
			t.Errorf("%s: %q, expected %q", c[0], got, c[2])
		}
	}
}
