package config

import (
	"os"
	"strings"
	"testing"
)

// A house without a channel has persons all the same: they sign. With a channel each
// has to be reachable.
func TestAPersonOfAHouseWithoutChannelsOnlySigns(t *testing.T) {
	const person = "\n[[person]]\nname = \"Tamsin Vale\"\ninitials = \"T.V.\"\n"
	path := house(t)
	write := func(more string) {
		t.Helper()
		if err := os.WriteFile(path, []byte(Sample("Plover Shed")+more), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(person)
	c, err := Load(path)
	if err != nil || len(c.Persons) != 1 || c.Persons[0].Channels != nil {
		t.Fatalf("%+v, %v", c.Persons, err)
	}
	write(person + "channels = [\"tv-phone\"]\n")
	if _, err := Load(path); err == nil || !strings.Contains(err.Error(), `no channel "tv-phone"`) {
		t.Errorf("a channel that is not there: %v", err)
	}
	write(person + "\n[[channel]]\nname = \"tv-phone\"\nkind = \"http\"\nurl = \"https://push.example/larder\"\n")
	if _, err := Load(path); err == nil || !strings.Contains(err.Error(), "person.channels") {
		t.Errorf("nobody could reach this person: %v", err)
	}
}
