/** Stands in for a package that pose-detection names in an import and that we never run. */
export class Pose {}
