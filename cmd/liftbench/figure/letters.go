// How wide letters are.

package figure

// unitsPerEm is how many units of letterWidths a letter's size has.
const unitsPerEm = 2048

// letterUnits returns how wide a letter is in Liberation Sans, and so in Arial
// and Helvetica; one that is not in the table counts as an em, which few exceed.
func letterUnits(r rune) int {
	switch {
	case ' ' <= r && r <= '~':
		return int(asciiWidths[r-' '])
	case 0xA0 <= r && r <= 0xFF:
		return int(latin1Widths[r-0xA0])
	case r == '−':
		return int(asciiWidths['+'-' '])
	}
	return unitsPerEm
}

// From the table hmtx of the font.
var (
	asciiWidths = [...]uint16{ // from the space on
		569, 569, 727, 1139, 1139, 1821, 1366, 391, 682, 682, 797, 1196, 569, 682, 569, 569,
		1139, 1139, 1139, 1139, 1139, 1139, 1139, 1139, 1139, 1139, 569, 569, 1196, 1196, 1196, 1139,
		2079, 1366, 1366, 1479, 1479, 1366, 1251, 1593, 1479, 569, 1024, 1366, 1139, 1706, 1479, 1593,
		1366, 1593, 1479, 1366, 1251, 1479, 1366, 1933, 1366, 1366, 1251, 569, 569, 569, 961, 1139,
		682, 1139, 1139, 1024, 1139, 1139, 569, 1139, 1139, 455, 455, 1024, 455, 1706, 1139, 1139,
		1139, 1139, 682, 1024, 569, 1139, 1024, 1479, 1024, 1024, 1024, 684, 532, 684, 1196,
	}
	latin1Widths = [...]uint16{ // from the space that does not break on
		569, 682, 1139, 1139, 1139, 1139, 532, 1139, 682, 1509, 758, 1139, 1196, 682, 1509, 1131,
		819, 1124, 682, 682, 682, 1180, 1100, 569, 682, 682, 748, 1139, 1708, 1708, 1708, 1251,
		1366, 1366, 1366, 1366, 1366, 1366, 2048, 1479, 1366, 1366, 1366, 1366, 569, 569, 569, 569,
		1479, 1479, 1593, 1593, 1593, 1593, 1593, 1196, 1593, 1479, 1479, 1479, 1479, 1366, 1366, 1251,
		1139, 1139, 1139, 1139, 1139, 1139, 1821, 1024, 1139, 1139, 1139, 1139, 569, 569, 569, 569,
		1139, 1139, 1139, 1139, 1139, 1139, 1139, 1124, 1251, 1139, 1139, 1139, 1139, 1024, 1139, 1024,
	}
)
