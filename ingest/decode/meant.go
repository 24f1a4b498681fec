package decode

// Meant reports whether the message comes from the sensor that f reads: always when
// none is named. A message without an id is another's, too; one that cannot be read
// is an error, since nobody can know.
func (d *Document) Meant(f *Field) (bool, error) {
	if f.isID == "" {
		return true, nil
	}
	root, err := d.json()
	if err != nil {
		return false, err
	}
	v, err := f.id.find(root, thePayload)
	if err != nil {
		return false, nil
	}
	text, ok := plainText(v)
	return ok && text == f.isID, nil
}
