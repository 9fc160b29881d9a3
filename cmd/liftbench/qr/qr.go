// Package qr draws a short text, such as an address, as a QR code on a terminal (ISO/IEC 18004, from
// memory: model 2, byte mode, error correction M, versions 1 to 9).
package qr

import (
	"fmt"
	"strings"
)

// blocks says how the codewords of a version are divided, at error correction M.
type blocks struct {
	correction int // codewords of correction in each block
	short      int // blocks
	data       int // codewords of data in each of them
	long       int // blocks that hold one more
}

var versions = [...]blocks{
	1: {10, 1, 16, 0}, {16, 1, 28, 0}, {26, 1, 44, 0}, {18, 2, 32, 0}, {24, 2, 43, 0},
	{16, 4, 27, 0}, {18, 4, 31, 0}, {22, 2, 38, 2}, {22, 3, 36, 2},
}

func (b *blocks) dataWords() int { return b.short*b.data + b.long*(b.data+1) }

// MostBytes is how long a text may be.
const MostBytes = 180

// Code is a square of modules; true is dark.
type Code struct {
	size     int
	dark     []bool
	reserved []bool // not for data
}

// Encode makes a code of a text of at most MostBytes bytes.
func Encode(text string) (*Code, error) {
	if len(text) > MostBytes {
		return nil, fmt.Errorf("a text of %d bytes; expected at most %d for a code that a terminal can show", len(text), MostBytes)
	}
	version := 1
	for versions[version].dataWords() < len(text)+2 {
		version++
	}
	words := interleaved(text, &versions[version])
	var best *Code
	least := 0
	for mask := range 8 {
		c := frame(version)
		c.format(mask)
		c.place(words, mask)
		if p := c.penalty(); best == nil || p < least {
			best, least = c, p
		}
	}
	return best, nil
}

// interleaved are the codewords in the order in which they are placed.
func interleaved(text string, b *blocks) []byte {
	// Mode 0100, a count of 8 bits, the bytes, an end of 0000: all shifted by half a byte.
	data := make([]byte, 0, b.dataWords())
	rest := byte(4)
	for _, c := range append([]byte{byte(len(text))}, text...) {
		data = append(data, rest<<4|c>>4)
		rest = c & 15
	}
	data = append(data, rest<<4)
	for pad := byte(0xEC); len(data) < b.dataWords(); pad ^= 0xEC ^ 0x11 {
		data = append(data, pad)
	}
	var parts, corrections [][]byte
	for i := range b.short + b.long {
		n := b.data
		if i >= b.short {
			n++
		}
		parts = append(parts, data[:n])
		corrections = append(corrections, correction(data[:n], b.correction))
		data = data[n:]
	}
	var out []byte
	for i := range b.data + 1 {
		for _, p := range parts {
			if i < len(p) {
				out = append(out, p[i])
			}
		}
	}
	for i := range b.correction {
		for _, c := range corrections {
			out = append(out, c[i])
		}
	}
	return out
}

// times multiplies in the field of 256 elements with x⁸ + x⁴ + x³ + x² + 1.
func times(a, b byte) byte {
	p := 0
	for i := 7; i >= 0; i-- {
		p <<= 1
		if p&0x100 != 0 {
			p ^= 0x11D
		}
		if b>>i&1 != 0 {
			p ^= int(a)
		}
	}
	return byte(p)
}

// correction is the remainder of the data as a polynomial, times xⁿ, by Π(x - 2ⁱ) for i < n (Reed and
// Solomon).
func correction(data []byte, n int) []byte {
	generator := make([]byte, n) // without its leading 1
	generator[n-1] = 1
	root := byte(1)
	for range n {
		for j := range n {
			generator[j] = times(generator[j], root)
			if j+1 < n {
				generator[j] ^= generator[j+1]
			}
		}
		root = times(root, 2)
	}
	rest := make([]byte, n)
	for _, d := range data {
		factor := d ^ rest[0]
		copy(rest, rest[1:])
		rest[n-1] = 0
		for j, g := range generator {
			rest[j] ^= times(g, factor)
		}
	}
	return rest
}

// frame is a code with what is the same for all texts of a version.
func frame(version int) *Code {
	n := 17 + 4*version
	c := &Code{size: n, dark: make([]bool, n*n), reserved: make([]bool, n*n)}
	for i := range n { // timing
		c.set(6, i, i%2 == 0)
		c.set(i, 6, i%2 == 0)
	}
	for _, at := range [][2]int{{3, 3}, {n - 4, 3}, {3, n - 4}} { // finders, with their light border
		for dy := -4; dy <= 4; dy++ {
			for dx := -4; dx <= 4; dx++ {
				if x, y := at[0]+dx, at[1]+dy; x >= 0 && x < n && y >= 0 && y < n {
					far := max(dx, -dx, dy, -dy)
					c.set(x, y, far != 2 && far != 4)
				}
			}
		}
	}
	if version > 1 { // alignment
		places := []int{6, n - 7}
		if version >= 7 {
			places = []int{6, (n - 1) / 2, n - 7}
		}
		for i, x := range places {
			for j, y := range places {
				last := len(places) - 1
				if i == 0 && j == 0 || i == 0 && j == last || i == last && j == 0 {
					continue // a finder is there
				}
				for dy := -2; dy <= 2; dy++ {
					for dx := -2; dx <= 2; dx++ {
						c.set(x+dx, y+dy, max(dx, -dx, dy, -dy) != 1)
					}
				}
			}
		}
	}
	if version >= 7 {
		bits := version<<12 | remainder(version, 12, 0x1F25)
		for i := range 18 {
			on := bits>>i&1 != 0
			c.set(n-11+i%3, i/3, on)
			c.set(i/3, n-11+i%3, on)
		}
	}
	return c
}

// remainder of value·2^shift by a polynomial of that degree.
func remainder(value, shift, generator int) int {
	rest := value << shift
	for bit := 30; bit >= shift; bit-- {
		if rest>>bit&1 != 0 {
			rest ^= generator << (bit - shift)
		}
	}
	return rest
}

func (c *Code) set(x, y int, dark bool) {
	c.dark[y*c.size+x], c.reserved[y*c.size+x] = dark, true
}

// format writes error correction M and the mask beside the finders, twice.
func (c *Code) format(mask int) {
	bits := (mask<<10 | remainder(mask, 10, 0x537)) ^ 0x5412
	on := func(i int) bool { return bits>>i&1 != 0 }
	n := c.size
	for i := range 6 {
		c.set(8, i, on(i))
		c.set(14-9-i, 8, on(9+i))
	}
	c.set(8, 7, on(6))
	c.set(8, 8, on(7))
	c.set(7, 8, on(8))
	for i := range 8 {
		c.set(n-1-i, 8, on(i))
	}
	for i := 8; i < 15; i++ {
		c.set(8, n-15+i, on(i))
	}
	c.set(8, n-8, true)
}

// place writes the codewords in columns of two, up and down from the right, under a mask.
func (c *Code) place(words []byte, mask int) {
	bit := 0
	up := true
	for right := c.size - 1; right > 0; right -= 2 {
		if right == 6 { // the timing's column
			right--
		}
		for i := range c.size {
			y := i
			if up {
				y = c.size - 1 - i
			}
			for x := right; x > right-2; x-- {
				if c.reserved[y*c.size+x] {
					continue
				}
				dark := bit < 8*len(words) && words[bit/8]>>(7-bit%8)&1 != 0
				bit++
				c.dark[y*c.size+x] = dark != masked(mask, x, y)
			}
		}
		up = !up
	}
}

// masked reports whether a mask turns a module.
func masked(mask, x, y int) bool {
	switch mask {
	case 0:
		return (x+y)%2 == 0
	case 1:
		return y%2 == 0
	case 2:
		return x%3 == 0
	case 3:
		return (x+y)%3 == 0
	case 4:
		return (y/2+x/3)%2 == 0
	case 5:
		return x*y%2+x*y%3 == 0
	case 6:
		return (x*y%2+x*y%3)%2 == 0
	}
	return ((x+y)%2+x*y%3)%2 == 0
}

// penalty is how hard a code is to read: long runs of a colour, squares of one, what looks like a
// finder, and more of a colour than of the other.
func (c *Code) penalty() int {
	n, sum, darks := c.size, 0, 0
	at := func(x, y int, turned bool) bool {
		if turned {
			x, y = y, x
		}
		return c.dark[y*n+x]
	}
	for _, turned := range []bool{false, true} {
		for y := range n {
			run := 0
			for x := range n {
				if x > 0 && at(x, y, turned) == at(x-1, y, turned) {
					run++
				} else {
					run = 1
				}
				if run == 5 {
					sum += 3
				} else if run > 5 {
					sum++
				}
				if x+11 <= n {
					pattern := 0
					for k := range 11 {
						pattern <<= 1
						if at(x+k, y, turned) {
							pattern |= 1
						}
					}
					if pattern == 0b10111010000 || pattern == 0b00001011101 {
						sum += 40
					}
				}
			}
		}
	}
	for y := range n {
		for x := range n {
			d := c.dark[y*n+x]
			if d {
				darks++
			}
			if x > 0 && y > 0 && d == c.dark[y*n+x-1] && d == c.dark[(y-1)*n+x] && d == c.dark[(y-1)*n+x-1] {
				sum += 3
			}
		}
	}
	off := 20*darks - 10*n*n
	return sum + 10*(max(off, -off)/(n*n))
}

// quiet is the light border that readers need, in modules.
const quiet = 4

// Text draws the code with two modules in a character, light ones as blocks, for a terminal that is
// dark; with plain black and white it can be told on a light one too, by most readers.
func (c *Code) Text() string {
	light := func(x, y int) bool {
		if y >= c.size+2*quiet {
			return false // below the border
		}
		x, y = x-quiet, y-quiet
		return x < 0 || y < 0 || x >= c.size || y >= c.size || !c.dark[y*c.size+x]
	}
	var b strings.Builder
	for y := 0; y < c.size+2*quiet; y += 2 {
		for x := range c.size + 2*quiet {
			switch a, d := light(x, y), light(x, y+1); {
			case a && d:
				b.WriteRune('█')
			case a:
				b.WriteRune('▀')
			case d:
				b.WriteRune('▄')
			default:
				b.WriteByte(' ')
			}
		}
		b.WriteByte('\n')
	}
	return b.String()
}
