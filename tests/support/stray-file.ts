/** Which files belong into the package that `npm pack` makes. */

/** Kinds of files that the program is made of, by the folder in which they may lie. */
const MAY_BE: readonly RegExp[] = [
  /^(package\.json|README\.md|CHANGELOG\.md|LICENSE)$/,
  /^dist\/(sbom\.cdx\.json|THIRD-PARTY\.md)$/,
  /^dist\/desk\/page\/(index\.html|[a-z0-9-]+\.svg|assets\/[\w.-]+\.(js|css))$/,
  /^dist\/(?!desk\/page\/)([a-z0-9-]+\/)+[a-z0-9-]+\.js$/,
  /^protocols\/([a-z0-9-]+\/)+([a-z0-9-]+\.(json|capture\.jsonl|md)|README\.md)$/,
  /^protocols\/CONFORMANCE\.md$/,
];

/** True for a file of a package that is none of what a package is made of. */
export const isStray = (file: string): boolean => !MAY_BE.some((kind) => kind.test(file));
