// Builds the app into dist/, or into the folder named by --out. The same sources always give the same bytes, so that
// check.sh can tell whether the committed files are fresh.
import { build } from 'esbuild'
import { createHash } from 'node:crypto'
import { cp, mkdir, readdir, readFile, rm, writeFile } from 'node:fs/promises'
import { basename, join } from 'node:path'

const here = import.meta.dirname
const args = process.argv.slice(2)
const out = args.includes('--out') ? args[args.indexOf('--out') + 1] : join(here, 'dist')

// What old phones still understand; their browser is newer than their system.
const target = ['chrome90', 'firefox90', 'safari15']
const common = { bundle: true, preserveSymlinks: true, target, logLevel: 'warning', absWorkingDir: here, legalComments: 'none' }

if (args.includes('--tests')) {
  const tests = (await readdir(join(here, 'test'))).filter(name => name.endsWith('.test.ts'))
  await rm(join(here, 'node_modules/.tests'), { recursive: true, force: true })
  await build({
    ...common, target: ['node20'], platform: 'node', format: 'esm', packages: 'external',
    entryPoints: tests.map(name => join('test', name)), outdir: 'node_modules/.tests', outExtension: { '.js': '.mjs' },
  })
} else {
  await app()
}

async function app() {
  await rm(out, { recursive: true, force: true })
  await mkdir(out, { recursive: true })
  await cp(join(here, 'static'), out, { recursive: true })
  const result = await build({
    ...common, minify: true, format: 'esm', splitting: true, jsx: 'automatic', jsxImportSource: 'preact', metafile: true,
    entryPoints: { app: 'src/main.tsx', look: 'src/look.css' }, entryNames: '[name]-[hash]', chunkNames: '[name]-[hash]', outdir: out,
  })
  const outputs = result.metafile.outputs
  const files = Object.keys(outputs).map(file => basename(file))
  const script = Object.keys(outputs).find(file => outputs[file].entryPoint === 'src/main.tsx')
  const look = files.find(file => file.endsWith('.css'))
  // The page names what the script will ask for at once, so that nothing waits for a second round trip.
  const first = firstOf(outputs, script).map(file => `<link rel="modulepreload" href="/app/${basename(file)}">`).join('\n')
  const page = (await readFile(join(here, 'src/page.html'), 'utf8'))
    .replaceAll('SCRIPT', basename(script)).replaceAll('LOOK', look).replace('<!-- FIRST -->\n', first && first + '\n')
  await writeFile(join(out, 'index.html'), page)
  await worker([...files, ...(await readdir(join(here, 'static')))].sort())
}

// firstOf lists the parts that a script imports before it runs, and not those that come later when a page asks for them.
function firstOf(outputs, file, seen = []) {
  for (const part of outputs[file].imports) {
    if (part.kind !== 'import-statement' || seen.includes(part.path)) continue
    seen.push(part.path)
    firstOf(outputs, part.path, seen)
  }
  return seen
}

// The service worker names the files it keeps, and a mark over all of them: a new build is a new shell.
async function worker(names) {
  const mark = createHash('sha256')
  for (const name of [...names, 'index.html']) mark.update(name).update(await readFile(join(out, name)))
  await build({
    ...common, minify: true, format: 'iife', entryPoints: { worker: 'src/worker.ts' }, outdir: out,
    define: {
      SHELL: JSON.stringify(['/', ...names.map(name => '/app/' + name)]),
      MARK: JSON.stringify(mark.digest('hex').slice(0, 12)),
    },
  })
}
