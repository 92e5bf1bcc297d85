// node duckdb.mjs PACKAGE TABLES QUERIES: puts queries to a folder of tables by DuckDB, each table a view of its file, and prints their
// answers as sqlite3 does, a row a line, its cells parted by |. PACKAGE is the folder of @duckdb/node-api. QUERIES is a file with a
// list of them in JSON; the answers go out as such a list.
import { readdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";

const [module, tables, queries] = process.argv.slice(2);
const { DuckDBInstance } = createRequire(import.meta.url)(resolve(module));
const connection = await (await DuckDBInstance.create(":memory:")).connect();
for (const file of readdirSync(tables)) {
  if (file.endsWith(".csv")) {
    const path = join(tables, file).replaceAll("'", "''");
    await connection.run(`create view "${file.slice(0, -4)}" as from read_csv('${path}', header = true)`);
  }
}

function cell(v) {
  if (v === null) return "";
  return String(typeof v === "object" && "toDouble" in v ? v.toDouble() : v);
}

const answers = [];
for (const query of JSON.parse(readFileSync(queries, "utf8"))) {
  const rows = (await connection.runAndReadAll(query)).getRows();
  answers.push(rows.map((row) => row.map(cell).join("|") + "\n").join(""));
}
process.stdout.write(JSON.stringify(answers));
