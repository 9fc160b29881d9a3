// What a device is, by its NAME.

package device

// classes are the device classes of industry group 2, agriculture and forestry, of a NAME
// (ISO 11783-5 and -1; from memory).
var classes = [...]string{
	0: "device of no class", 1: "tractor", 2: "tillage machine", 3: "secondary tillage machine", 4: "planter or seeder", 5: "fertilizer spreader", 6: "sprayer", 7: "harvester",
	8: "root harvester", 9: "forage machine", 10: "irrigation", 11: "trailer", 12: "farmyard machine", 13: "powered auxiliary device", 14: "machine for special crops",
	15: "municipal machine", 16: "forestry machine", 17: "sensor system",
}

// Kind is what a NAME says that its device is; "" where it says nothing. The rest of a NAME,
// who made it and its number, is nobody's business and not told.
func Kind(name uint64) string {
	const agriculture = 2
	group, class := name>>60&7, int(name>>49&0x7F)
	if group != agriculture || class >= len(classes) {
		return ""
	}
	return classes[class]
}
