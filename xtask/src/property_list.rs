//! What macOS is told of a plug-in's folder.

/// The oldest system that it is linked for: the first one for both processors.
pub const OLDEST: &str = "11.0";

/// The property list of a plug-in of that format.
pub fn info(format: &str, version: &str) -> String {
    let more = format!(
        "  <key>CFBundleInfoDictionaryVersion</key><string>6.0</string>
  <key>LSMinimumSystemVersion</key><string>{OLDEST}</string>
  <key>NSHighResolutionCapable</key><true/>
"
    );
    list(format, version, &more)
}

/// What is said of every folder, and `more`, which ends its lines.
pub fn list(format: &str, version: &str, more: &str) -> String {
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
  <key>CFBundleExecutable</key><string>Brunt</string>
  <key>CFBundleIdentifier</key><string>org.brunt.brunt.{format}</string>
  <key>CFBundleName</key><string>Brunt</string>
  <key>CFBundlePackageType</key><string>BNDL</string>
  <key>CFBundleShortVersionString</key><string>{version}</string>
  <key>CFBundleVersion</key><string>{version}</string>
{more}</dict>
</plist>
"#
    )
}
