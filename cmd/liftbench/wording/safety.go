// The safety words of measuring behind a machine.

package wording

import "liftbench/cmd/liftbench/language"

// StandClear is what anyone who measures behind a machine, or drives it by figures of the bench, reads
// first. Its lines are those of a command's help.
const StandClear = `Nobody stands at the flag line, or between a unit and the border, while the
machine drives. Measure when it has gone and stands: engine off, key out, tools
lowered or locked. Oil under pressure goes through skin: look for leaks with a
piece of card, never by hand. The bench is not a safety function.`

const standClearGerman = `Niemand steht an der Fähnchenlinie oder zwischen Gerät und Grenze, solange die
Maschine fährt. Gemessen wird, wenn sie weggefahren ist und steht: Motor aus,
Schlüssel abgezogen, Werkzeuge abgesenkt oder verriegelt. Öl unter Druck geht
durch die Haut: Lecks mit einem Stück Pappe suchen, nie mit der Hand. Der
Prüfstand ist keine Sicherheitsfunktion.`

const standClearFrench = `Personne à la ligne de jalons, ni entre l’outil et la limite, tant que la
machine roule. On mesure quand elle est partie et arrêtée : moteur coupé, clé
retirée, outils posés ou verrouillés. L’huile sous pression traverse la peau :
cherchez les fuites avec un carton, jamais à la main. Le banc d’essai n’est pas
une fonction de sécurité.`

// StandClearEverywhere is StandClear in every language, for the help of commands, which is English.
const StandClearEverywhere = StandClear + "\n\n" + standClearGerman + "\n\n" + standClearFrench

// StandClearIn is StandClear in a language.
func StandClearIn(l language.Language) string {
	switch l {
	case language.German:
		return standClearGerman
	case language.French:
		return standClearFrench
	}
	return StandClear
}
