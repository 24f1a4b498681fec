package app

import (
	"path/filepath"

	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/config"
)

// RestoreAdvice says what to do about a database that is damaged, with the command for
// the newest copy there is.
func RestoreAdvice(cfg *config.Config) string {
	newest := "COPY"
	where := "no copies are made: [backup] in the configuration names no folder; one that you made by hand is put back by"
	if cfg.Backup.Folder != "" {
		where = "no copy is in " + cfg.Backup.Folder + "; one from elsewhere is put back by"
		if all, err := backup.List(cfg.Backup.Folder); err == nil && len(all) > 0 {
			newest, where = all[0].Folder, "the newest copy is put back by"
		}
	}
	to := filepath.Dir(cfg.Site.Database)
	if cfg.Path != "" {
		to = filepath.Dir(cfg.Path) // restore puts the database where this configuration has it
	}
	return "change the disk or card if it is old; stop flitch; " + where + ": flitch restore " + newest + " --to " + to + " --by INITIALS --replace"
}
