// Says by its exit status whether node_modules holds the packages of package-lock.json. Versions are compared and not times,
// because a checkout makes every file new.
import { readFileSync } from 'node:fs'

const packages = file => { try { return JSON.parse(readFileSync(new URL(file, import.meta.url), 'utf8')).packages } catch { return {} } }
const wanted = Object.entries(packages('package-lock.json')).filter(([path]) => path)
const here = packages('node_modules/.package-lock.json')
// What is for other machines only is not there.
const lacking = wanted.filter(([path, p]) => (here[path] ? here[path].version !== p.version : !p.optional))
if (lacking.length > 0) console.error(`not installed: ${lacking.slice(0, 5).map(([path, p]) => `${path.replace(/^.*node_modules\//, '')} ${p.version}`).join(', ')}`)
process.exit(lacking.length > 0 || wanted.length === 0 ? 1 : 0)
