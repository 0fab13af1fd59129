; Brunt's installer for Windows. Made by `cargo xtask package`, which defines VERSION, FILES (a
; folder with what is installed), OUT, and SIZE_KB.
;
;   brunt-VERSION-windows-x86_64-setup.exe /S             installs without a question
;   "%ProgramFiles%\Brunt\uninstall.exe" /S               removes
;
; What is installed is removed, file by file; reports and settings of the user's own stay.

; A program of 64 bits, as what it installs is.
Target amd64-unicode
ManifestDPIAware true
RequestExecutionLevel admin
SetCompressor /SOLID lzma

!include "MUI2.nsh"
!include "x64.nsh"

Name "Brunt ${VERSION}"
OutFile "${OUT}"
InstallDir "$PROGRAMFILES64\Brunt"
ShowInstDetails show
ShowUninstDetails show

!define KEY "Software\Microsoft\Windows\CurrentVersion\Uninstall\Brunt"

!insertmacro MUI_PAGE_LICENSE "${FILES}\documents\LICENSE.txt"
!insertmacro MUI_PAGE_DIRECTORY
!insertmacro MUI_PAGE_INSTFILES
!insertmacro MUI_UNPAGE_CONFIRM
!insertmacro MUI_UNPAGE_INSTFILES
!insertmacro MUI_LANGUAGE "English"

VIProductVersion "${VERSION}.0"
VIAddVersionKey "ProductName" "Brunt"
VIAddVersionKey "FileDescription" "Brunt, a punch meter: installer"
VIAddVersionKey "FileVersion" "${VERSION}"
VIAddVersionKey "LegalCopyright" "The Brunt contributors; MIT OR Apache-2.0"

Function .onInit
    ${IfNot} ${RunningX64}
        MessageBox MB_OK|MB_ICONSTOP "Brunt needs a 64-bit Windows." /SD IDOK
        Abort
    ${EndIf}
    SetRegView 64
FunctionEnd

Function un.onInit
    SetRegView 64
FunctionEnd

Section "Brunt"
    SetOutPath "$INSTDIR"
    File "${FILES}\brunt.exe"
    SetOutPath "$INSTDIR\documents"
    File "${FILES}\documents\*.*"
    ; The folders that hosts scan, by the two formats' specifications.
    SetOutPath "$COMMONFILES64\CLAP"
    File "${FILES}\Brunt.clap"
    SetOutPath "$COMMONFILES64\VST3\Brunt.vst3\Contents\x86_64-win"
    File "${FILES}\Brunt.vst3\Contents\x86_64-win\Brunt.vst3"
    SetOutPath "$INSTDIR"
    WriteUninstaller "$INSTDIR\uninstall.exe"
    WriteRegStr HKLM "${KEY}" "DisplayName" "Brunt"
    WriteRegStr HKLM "${KEY}" "DisplayVersion" "${VERSION}"
    WriteRegStr HKLM "${KEY}" "Publisher" "The Brunt contributors"
    WriteRegStr HKLM "${KEY}" "InstallLocation" "$INSTDIR"
    WriteRegStr HKLM "${KEY}" "UninstallString" '"$INSTDIR\uninstall.exe"'
    WriteRegStr HKLM "${KEY}" "QuietUninstallString" '"$INSTDIR\uninstall.exe" /S'
    WriteRegDWORD HKLM "${KEY}" "EstimatedSize" ${SIZE_KB}
    WriteRegDWORD HKLM "${KEY}" "NoModify" 1
    WriteRegDWORD HKLM "${KEY}" "NoRepair" 1
SectionEnd

Section "Uninstall"
    Delete "$COMMONFILES64\CLAP\Brunt.clap"
    RMDir "$COMMONFILES64\CLAP"
    Delete "$COMMONFILES64\VST3\Brunt.vst3\Contents\x86_64-win\Brunt.vst3"
    RMDir "$COMMONFILES64\VST3\Brunt.vst3\Contents\x86_64-win"
    RMDir "$COMMONFILES64\VST3\Brunt.vst3\Contents"
    RMDir "$COMMONFILES64\VST3\Brunt.vst3"
    RMDir "$COMMONFILES64\VST3"
    ; One by one, since the folder may be one of the user's own. The check fails where one is missing.
    Delete "$INSTDIR\documents\README.md"
    Delete "$INSTDIR\documents\install.md"
    Delete "$INSTDIR\documents\CHANGELOG.md"
    Delete "$INSTDIR\documents\LICENSE.txt"
    Delete "$INSTDIR\documents\LICENSE-MIT.txt"
    Delete "$INSTDIR\documents\LICENSE-APACHE.txt"
    Delete "$INSTDIR\documents\THIRD-PARTY.md"
    Delete "$INSTDIR\documents\brunt.cdx.json"
    RMDir "$INSTDIR\documents"
    Delete "$INSTDIR\brunt.exe"
    Delete "$INSTDIR\uninstall.exe"
    RMDir "$INSTDIR"
    DeleteRegKey HKLM "${KEY}"
SectionEnd
