package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// openFile opens a file to be read. A device is none: it may never end. A pipe is one, as that of a
// shell.
func openFile(path string) (*os.File, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	info, err := file.Stat()
	switch {
	case err != nil:
	case info.IsDir():
		err = fmt.Errorf("%s is a folder, not a file", path)
	case info.Mode()&fs.ModeDevice != 0:
		err = fmt.Errorf("%s is a device, not a file", path)
	default:
		return file, nil
	}
	return nil, errors.Join(err, file.Close())
}

// mostText is how large a file is that a person wrote, bytes: proposal.
const mostText = 16 << 20

// readFile reads a file that a person wrote.
func readFile(path string) ([]byte, error) {
	file, err := openFile(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, mostText+1))
	if err == nil && len(text) > mostText {
		err = fmt.Errorf("%s has more than %d MB", path, mostText>>20)
	}
	return text, err
}

// A spoken is an output that remembers what kept it from being heard.
type spoken struct {
	to  io.Writer
	err error
}

// Write implements io.Writer.
func (s *spoken) Write(p []byte) (int, error) {
	n, err := s.to.Write(p)
	if s.err == nil {
		s.err = err
	}
	return n, err
}
