package photo

import (
	"bytes"
	"encoding/binary"
)

// Markers of a JPEG file (ITU-T T.81, table B.1).
const (
	markSOF2 = 0xc2 // progressive
	markSOS  = 0xda // the picture begins
	markAPP1 = 0xe1 // EXIF
)

// segments hands over the parts of a JPEG file before its picture, until each says stop. A
// file that is no JPEG has none.
func segments(file []byte, each func(mark byte, body []byte) (more bool)) {
	if len(file) < 4 || file[0] != 0xff || file[1] != 0xd8 {
		return
	}
	for at := 2; at+4 <= len(file) && file[at] == 0xff; {
		mark := file[at+1]
		if mark == 0xff { // fill
			at++
			continue
		}
		size := int(binary.BigEndian.Uint16(file[at+2:]))
		if mark == markSOS || size < 2 || at+2+size > len(file) {
			return
		}
		if !each(mark, file[at+4:at+2+size]) {
			return
		}
		at += 2 + size
	}
}

// progressive reports a JPEG whose picture comes in several passes.
func progressive(file []byte) (yes bool) {
	segments(file, func(mark byte, _ []byte) bool {
		yes = mark == markSOF2
		return !yes
	})
	return yes
}

// orientation reads how a JPEG is to be turned, 1 to 8; 1 when it does not say.
func orientation(file []byte) int {
	out := 1
	segments(file, func(mark byte, body []byte) bool {
		tiff, exif := bytes.CutPrefix(body, []byte("Exif\x00\x00"))
		if mark != markAPP1 || !exif {
			return true
		}
		out = orientationTag(tiff)
		return false
	})
	return out
}

// The tag and its type in a TIFF directory (TIFF 6.0, p. 14 to 16 and 36).
const (
	tagOrientation = 0x0112
	typeShort      = 3
	entrySize      = 12
)

// orientationTag reads the tag in the first directory of a TIFF file.
func orientationTag(tiff []byte) int {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.LittleEndian
	if string(tiff[:2]) == "MM" {
		order = binary.BigEndian
	}
	at := int64(order.Uint32(tiff[4:]))
	if at < 8 || at+2 > int64(len(tiff)) {
		return 1
	}
	directory := tiff[at:]
	for i := range int(order.Uint16(directory)) {
		from := 2 + i*entrySize
		if from+entrySize > len(directory) {
			return 1
		}
		e := directory[from:]
		if order.Uint16(e) == tagOrientation && order.Uint16(e[2:]) == typeShort {
			if v := int(order.Uint16(e[8:])); v >= 1 && v <= 8 {
				return v
			}
			return 1
		}
	}
	return 1
}
