package workbook

import (
	"archive/zip"
	"io"
	"os"
	"slices"
	"strings"
)

// save writes the file. The library writes the streamed sheets in the order of a map: the
// parts are put in order of their names behind it, so that the same record gives the same
// bytes.
func (b *book) save(w io.Writer) (err error) {
	b.file.SetActiveSheet(0)
	file, err := os.CreateTemp("", "flitch-xlsx-*")
	if err != nil {
		return err
	}
	defer func() { err = firstOf(err, file.Close(), os.Remove(file.Name())) }()
	if err := b.file.Write(file); err != nil {
		return err
	}
	size, err := file.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	parts, err := zip.NewReader(file, size)
	if err != nil {
		return err
	}
	slices.SortFunc(parts.File, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	out := zip.NewWriter(w)
	for _, part := range parts.File {
		if err := out.Copy(part); err != nil {
			return err
		}
	}
	return out.Close()
}
