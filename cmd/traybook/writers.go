package main

// writers are the commands that write into the book.
func writers() []offer {
	return []offer{
		{"init", initCommand}, {"camera", cameraCommand}, {"paper", paperCommand}, {"bath", bathCommand},
		{"session", sessionCommand}, {"sitter", sitterCommand}, {"meter", meterCommand}, {"expose", exposeCommand},
		{"develop", developCommand}, {"rinse", rinseCommand}, {"fix", fixCommand}, {"tray", trayCommand},
		{"wash", washCommand}, {"judge", judgeCommand}, {"reprint", reprintCommand}, {"mark", markCommand},
		{"load", loadCommand}, {"strip", stripCommand}, {"dry", dryCommand}, {"tone", toneCommand},
		{"work", workCommand}, {"test", testCommand}, {"deliver", deliverCommand}, {"note", noteCommand},
		{"bench", benchCommand}, {"amend", amendCommand}, {"void", voidCommand}, {"erase", eraseCommand},
		{"import", importCommand}, {"merge", mergeCommand}, {"verify", verifyCommand}, {"rebuild", rebuildCommand},
		{"backup", backupCommand}, {"salvage", salvageCommand}, {"attach", attachCommand},
	}
}
