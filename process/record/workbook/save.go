package workbook

import (
	"archive/zip"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"
)

// save writes the file. The library writes the streamed sheets, and the list of kinds of
// files, in the order of maps: behind it the parts are put in order of their names and that
// list in order of its lines, so that the same record gives the same bytes.
func (b *book) save(w io.Writer) (err error) {
	file, err := os.CreateTemp("", "flitch-xlsx-*")
	if err != nil {
		return err
	}
	defer func() { err = firstOf(err, file.Close(), os.Remove(file.Name())) }()
	b.file.SetZipWriter(func(io.Writer) excelize.ZipWriter { return zip.NewWriter(file) }) // else it is all held in memory
	if err := b.file.Write(io.Discard); err != nil {
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
		if err := copied(out, part); err != nil {
			return err
		}
	}
	return out.Close()
}

const kinds = "[Content_Types].xml"

var kind = regexp.MustCompile(`<Default [^>]*></Default>`)

// copied takes a part over as it is packed, but for the list of kinds.
func copied(out *zip.Writer, part *zip.File) error {
	if part.Name != kinds {
		return out.Copy(part)
	}
	from, err := part.Open()
	if err != nil {
		return err
	}
	defer from.Close()
	text, err := io.ReadAll(from)
	if err != nil {
		return err
	}
	list := kind.FindAllString(string(text), -1)
	slices.Sort(list)
	n := -1
	sorted := kind.ReplaceAllStringFunc(string(text), func(string) string { n++; return list[n] })
	to, err := out.Create(part.Name)
	if err != nil {
		return err
	}
	_, err = io.WriteString(to, sorted)
	return err
}
