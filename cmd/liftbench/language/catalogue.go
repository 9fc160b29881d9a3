// Catalogues: the texts of a room, by key and language.

package language

import (
	"encoding/json"
	"fmt"
	"strings"
)

// Catalogue holds the texts of a room.
type Catalogue map[string]map[string]forms

// forms is a text, or its forms for one and for any other number.
type forms []string

// UnmarshalJSON reads a string, or a list of strings.
func (f *forms) UnmarshalJSON(data []byte) error {
	if len(data) > 0 && data[0] == '[' {
		return json.Unmarshal(data, (*[]string)(f))
	}
	*f = make(forms, 1)
	return json.Unmarshal(data, &(*f)[0])
}

// Load reads a catalogue that the program holds.
func Load(file []byte) Catalogue {
	var c Catalogue
	if err := json.Unmarshal(file, &c); err != nil {
		panic("catalogue of texts: " + err.Error()) // a test loads every catalogue
	}
	return c
}

// In returns the texts in a language.
func (c Catalogue) In(l Language) Texts { return Texts{Language: l, catalogue: c} }

// Texts are the texts of a catalogue in one language.
type Texts struct {
	Language
	catalogue Catalogue
}

// Text returns the text of a key. What stands in braces in it is replaced by the
// values that follow, each after its name: Text("passes", "n", 3, "speed", "8 km/h").
// A value is a string, or a whole number; that with the name n chooses the plural.
// A key that is not there is shown as it is.
func (t Texts) Text(key string, values ...any) string {
	list := t.catalogue[key][t.String()]
	if len(list) == 0 {
		return key
	}
	text := list[0]
	var replace []string
	for i := 0; i+1 < len(values); i += 2 {
		name, value := fmt.Sprint(values[i]), fmt.Sprint(values[i+1])
		if n, ok := values[i+1].(int); ok {
			value = t.Number(float64(n), 0)
			if name == "n" && !t.one(n) {
				text = list[len(list)-1]
			}
		}
		replace = append(replace, "{"+name+"}", value)
	}
	return strings.NewReplacer(replace...).Replace(text)
}
