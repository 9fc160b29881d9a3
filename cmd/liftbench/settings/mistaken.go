// Which kind of settings a file holds, if one kind is given in place of
// another.

package settings

import (
	"fmt"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings/bind"
)

// kinds are the settings files with the keys that tell them apart, and how each is
// given on the command line.
var kinds = []struct {
	name string
	keys [2]string
	how  string // with the file's name in it
}{
	{"machine", [2]string{"mount", "rows"}, "liftbench check --machine %[1]s prints its set-up sheet; to drive it, name it under machine: in a scenario, or give --machine %[1]s beside a scenario or a log"},
	{"sheet", [2]string{"customer", "tolerance"}, "liftbench run --sheet sheet.html --sheet-file %[1]s prints it"},
	{"scenario", [2]string{"machine", "field"}, "liftbench run %[1]s drives it"},
	{"study", [2]string{"scenario", "vary"}, "liftbench sweep %[1]s drives it"},
}

// readKind reads data, the content of file, into the settings of one kind. Where it
// holds another kind, the error says which, and how it is given.
func readKind(file string, data []byte, wanted string, into any) (*bind.Document, error) {
	doc, err := bind.YAML(file, data, "a "+wanted, into)
	if err == nil {
		return doc, nil
	}
	keys := bind.TopKeys(data)
	for _, k := range kinds {
		if k.name != wanted && keys[k.keys[0]] && keys[k.keys[1]] {
			return nil, &failure.Input{File: file, Msg: fmt.Sprintf("is a %s file; expected a %s file. ", k.name, wanted) + fmt.Sprintf(k.how, file)}
		}
	}
	return nil, err
}
