package device

import "testing"

func TestKind(t *testing.T) {
	for name, want := range map[uint64]string{
		0xA002000000000001: "tractor", 0xA006000000000002: "secondary tillage machine", 0xA00884000BC8AA52: "planter or seeder", 0x2002FF001CEFC53D: "tractor",
		0: "", 0xFFFFFFFFFFFFFFFF: "", 0x1002000000000001: "", 0xA0FE000000000000: "",
	} {
		if got := Kind(name); got != want {
			t.Errorf("%016X is a %q, want %q", name, got, want)
		}
	}
}
