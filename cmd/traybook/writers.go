package main

import "github.com/urfave/cli/v2"

// writers are the commands that write into the book.
func writers(env *Env) []*cli.Command {
	return []*cli.Command{
		initCommand(env), cameraCommand(env), paperCommand(env), bathCommand(env), sessionCommand(env), sitterCommand(env),
		meterCommand(env), exposeCommand(env), developCommand(env), rinseCommand(env), fixCommand(env), trayCommand(env),
		washCommand(env), judgeCommand(env), reprintCommand(env), markCommand(env), loadCommand(env), stripCommand(env),
		dryCommand(env), toneCommand(env), workCommand(env), testCommand(env), deliverCommand(env), noteCommand(env), benchCommand(env),
		amendCommand(env), voidCommand(env), eraseCommand(env), importCommand(env),
		mergeCommand(env), verifyCommand(env), rebuildCommand(env), backupCommand(env), salvageCommand(env), attachCommand(env),
	}
}
