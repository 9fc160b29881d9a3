// Package pngfile writes the file of a picture. image/png would bring its decoder into the program,
// 0.15 MB, and nothing reads a picture.
package pngfile

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"io"
)

// Encode writes an opaque picture as a PNG of 8 bits for each of red, green
// and blue (ISO/IEC 15948, from memory; the tests read it with image/png).
func Encode(w io.Writer, img *image.RGBA) error {
	wide, high := img.Bounds().Dx(), img.Bounds().Dy()
	head := binary.BigEndian.AppendUint32(nil, uint32(wide))
	head = binary.BigEndian.AppendUint32(head, uint32(high))
	const bits, trueColor, deflate, adaptive, notInterlaced = 8, 2, 0, 0, 0
	head = append(head, bits, trueColor, deflate, adaptive, notInterlaced)

	var data bytes.Buffer
	z, err := zlib.NewWriterLevel(&data, zlib.BestCompression)
	if err != nil {
		return err // not met: the level is a legal one
	}
	const up = 2 // each byte less the one above it, which is mostly 0
	line := append(make([]byte, 0, 1+3*wide), up)
	above := make([]byte, img.Stride)
	for y := range high {
		pixels := img.Pix[y*img.Stride:][:4*wide]
		line = line[:1]
		for i, v := range pixels {
			if i%4 != 3 { // opaque
				line = append(line, v-above[i])
			}
		}
		above = pixels
		// Writing to memory does not fail.
		_, _ = z.Write(line)
	}
	_ = z.Close()

	file := []byte("\x89PNG\r\n\x1a\n")
	for _, chunk := range []struct {
		kind string
		data []byte
	}{{"IHDR", head}, {"IDAT", data.Bytes()}, {"IEND", nil}} {
		file = binary.BigEndian.AppendUint32(file, uint32(len(chunk.data)))
		from := len(file)
		file = append(append(file, chunk.kind...), chunk.data...)
		file = binary.BigEndian.AppendUint32(file, crc32.ChecksumIEEE(file[from:]))
	}
	_, err = w.Write(file)
	return err
}
