package owner

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// ownerOf is the numbers of who owns a file, or a link.
func ownerOf(t *testing.T, path string) [2]int {
	t.Helper()
	info, err := os.Lstat(path)
	if err != nil {
		t.Fatal(err)
	}
	who := info.Sys().(*syscall.Stat_t)
	return [2]int{int(who.Uid), int(who.Gid)}
}

// What root makes in somebody's folder is that one's.
func TestWhatRootMakesBelongsToTheFolder(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Fatal("this test gives files away and needs root")
	}
	house, elsewhere := t.TempDir(), filepath.Join(t.TempDir(), "elsewhere")
	daemon := [2]int{4242, 4343}
	if err := os.Chown(house, daemon[0], daemon[1]); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(elsewhere, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	made, err := os.Create(filepath.Join(house, "made"))
	if err != nil {
		t.Fatal(err)
	}
	defer made.Close()
	if OfFolder(made); ownerOf(t, made.Name()) != daemon {
		t.Errorf("a file is of %v", ownerOf(t, made.Name()))
	}
	copied, err := os.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer copied.Close()
	if Like(copied, made.Name()); ownerOf(t, copied.Name()) != daemon {
		t.Errorf("a folder is of %v", ownerOf(t, copied.Name()))
	}
	// Its name has become a link in between: what that leads to stays whose it was.
	if err := os.Rename(made.Name(), elsewhere+".moved"); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(elsewhere, made.Name()); err != nil {
		t.Fatal(err)
	}
	if OfFolder(made); ownerOf(t, elsewhere) == daemon {
		t.Error("a file that a link leads to was given away")
	}
}

// Where the owner is not known nothing is given.
func TestNothingIsGivenToNobody(t *testing.T) {
	folder, err := os.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer folder.Close()
	before := ownerOf(t, folder.Name())
	if Like(folder, filepath.Join(folder.Name(), "nowhere")); ownerOf(t, folder.Name()) != before {
		t.Error("it was given away")
	}
}
